/* place: see place.h. */
#include "place.h"

#include "support/folder.h"

#include <math.h>
#include <stdlib.h>
#include <string.h>

const char drawing[] = "<svg xmlns='http://www.w3.org/2000/svg' width='60mm' height='40mm' "
                       "viewBox='0 0 60 40'><path d='M10,10 H50 M10,20 H40' fill='none' "
                       "stroke='#000' stroke-width='0.5'/></svg>";

void write_file(const Place *p, const char *name, const char *text)
{
    g_autofree char *path = g_build_filename(p->folder, name, NULL);
    g_assert_true(g_file_set_contents(path, text, -1, NULL));
}

void place_init(Place *p)
{
    place_init_at(p, NULL);
}

void place_init_at(Place *p, const char *port)
{
    g_autoptr(GError) error = NULL;
    g_autofree char *made = g_dir_make_tmp("drawtrue-XXXXXX", NULL);
    *p = (Place){.folder = realpath(made, NULL)};
    p->work = g_build_filename(p->folder, ".work", NULL);
    p->journal = g_build_filename(p->folder, ".journal.db", NULL);
    write_file(p, "label.svg", drawing);
    const DtDeskOptions o = {
        .journal = p->journal, .folder = p->folder, .work = p->work, .port = port};
    p->d = dt_desk_new(&o, &error);
    g_assert_no_error(error);
}

void place_clear(Place *p)
{
    dt_desk_free(p->d);
    g_assert_true(folder_remove(p->folder));
    free(p->folder);
    g_free(p->work);
    g_free(p->journal);
}

gboolean act(Place *p, const char *action, const char *json, GError **error)
{
    JsonObject *in = dt_request_read(json, strlen(json), error);
    if (in == NULL)
        return FALSE;
    const gboolean good = dt_desk_act(p->d, action, in, error);
    json_object_unref(in);
    return good;
}

void done(Place *p, const char *action, const char *json)
{
    g_autoptr(GError) error = NULL;
    act(p, action, json, &error);
    g_assert_no_error(error);
}

void refused(Place *p, const char *action, const char *json, DtErrorCode code, const char *why)
{
    g_autoptr(GError) error = NULL;
    if (act(p, action, json, &error))
        g_error("%s %s is done", action, json);
    if (!g_error_matches(error, DT_ERROR, code) || strstr(error->message, why) == NULL)
        g_error("%s %s: code %d, '%s' and not '%s'", action, json, error->code, error->message,
                why);
}

void settle(Place *p)
{
    const DtDeskDrawing *w = &p->d->drawing;
    while (p->d->draft != NULL || w->state == DT_DRAFT_WORKING || w->state == DT_DRAFT_SEEN ||
           p->d->reopen)
        g_main_context_iteration(NULL, TRUE);
}

JsonObject *read_json(char *text)
{
    g_autofree char *own = text;
    g_autoptr(JsonParser) parser = json_parser_new();
    g_assert_nonnull(own);
    g_assert_true(json_parser_load_from_data(parser, own, -1, NULL));
    return json_object_ref(json_node_get_object(json_parser_get_root(parser)));
}

JsonObject *told(Place *p, DtDeskPart part, const char *name)
{
    JsonObject *all = read_json(dt_desk_tell(p->d, part, 7));
    g_assert_cmpint(json_object_get_int_member(all, "n"), ==, 7);
    g_assert_cmpuint(json_object_get_size(all), ==, 2);
    JsonObject *own = json_object_ref(json_object_get_object_member(all, name));
    json_object_unref(all);
    return own;
}

const char *text_of(JsonObject *o, const char *name)
{
    g_assert_true(json_object_has_member(o, name));
    return json_object_get_null_member(o, name) ? NULL : json_object_get_string_member(o, name);
}

JsonObject *object_of(JsonObject *o, const char *name)
{
    g_assert_true(json_object_has_member(o, name));
    return json_object_get_object_member(o, name);
}

double number_of(JsonObject *o, const char *name)
{
    g_assert_true(json_object_has_member(o, name));
    return json_object_get_null_member(o, name) ? NAN : json_object_get_double_member(o, name);
}
