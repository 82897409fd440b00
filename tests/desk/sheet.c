/* sheet: see sheet.h. */
#include "sheet.h"

#include "drawtrue/truing.h"

void init_own(Place *p)
{
    place_init(p);
    done(p, "new-profile", "{\"name\": \"bench\"}");
    settle(p);
}

void make_sheet(Place *p, const char *kind, const char *truth, Sheet *out)
{
    g_autoptr(GError) error = NULL;
    g_auto(DtSheetRecord) record = {0};
    g_autofree char *json = g_strdup_printf("{\"kind\": \"%s\"}", kind), *program = NULL;
    gsize n;
    done(p, "make-test-sheet", json);
    settle(p);
    dt_sheet_log_read(p->d->journal, p->d->profile->name, 0, &record, &error);
    g_assert_no_error(error);
    out->sheet = dt_sheet_from_json(record.sheet, &error);
    g_assert_no_error(error);
    g_assert_true(g_file_get_contents(p->d->drawing.source, &program, &n, NULL));
    out->rig = dt_rig_new_from_text(truth, "truth", &error);
    g_assert_no_error(error);
    dt_rig_run_text(out->rig, program, n);
    eye_reader_init(&out->eye, out->sheet, out->rig, 5);
    out->eye.vernier_error = out->eye.rule_error_mm = 0;
    out->readings = dt_eye_readings_new(out->sheet);
}

void sheet_clear(Sheet *s)
{
    dt_eye_readings_free(s->readings);
    eye_reader_clear(&s->eye);
    dt_rig_free(s->rig);
    dt_sheet_free(s->sheet);
}

char *answer_json(const Sheet *s, size_t ask, size_t i, const char *text)
{
    return g_strdup_printf("{\"ask\": \"%s\", \"text\": \"%s\", \"sheet\": %d, \"i\": %d}",
                           s->readings->asks[ask].name, text, (int)s->sheet->number, (int)i);
}

void give_answer(Place *p, Sheet *s, size_t ask, size_t i, const char *text)
{
    g_autofree char *json = answer_json(s, ask, i, text);
    const guint before = p->d->measure_number;
    done(p, "keep-reading", json);
    g_assert_cmpuint(p->d->measure_number, >, before);
    g_assert_true(dt_eye_readings_set(s->readings, ask, i, text, NULL));
}

JsonObject *measure(Place *p)
{
    g_autoptr(GError) error = NULL;
    char *json = dt_desk_measure_json(p->d, &error);
    g_assert_no_error(error);
    return read_json(json);
}
