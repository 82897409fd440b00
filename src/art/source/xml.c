/* xml: the file's elements as a compact tree. libxml2 reads, without network and without any
 * external entity; only what a drawing needs is kept. */
#define _GNU_SOURCE /* memrchr */
#include "art/style/known.h"

#include "drawtrue/work.h"

#include <libxml/parser.h>
#include <libxml/parserInternals.h>
#include <libxml/SAX2.h>

#define SVG_NAMESPACE "http://www.w3.org/2000/svg"
#define XLINK_NAMESPACE "http://www.w3.org/1999/xlink"
#define XHTML_NAMESPACE "http://www.w3.org/1999/xhtml"
#define MAX_UNDRAWN 4096
#define NAME_CACHE 256

typedef struct {
    ArtDoc *doc;
    xmlParserCtxtPtr xml;
    ArtNode *at;       /* the open element */
    gsize foreign;     /* open elements of other namespaces below `at` */
    gsize words_depth; /* open elements within which character data matters */
    gsize entity_bytes;
    const char *source_end;
    const char *last_classes; /* of the last element that has any */
    GError *error;
    int lines_seen;
    struct {
        const xmlChar *key;
        int id;
        ArtKnown known; /* of an unknown name */
    } tags[NAME_CACHE], names[NAME_CACHE];
} Builder;

/* Names ---------------------------------------------------------------------------------------- */

static const char *const tag_names[] = {[ART_TAG_OTHER] = "",
                                        [ART_TAG_WORDS] = "",
#define X(id, name) [ART_TAG_##id] = name,
                                        ART_TAGS(X)
#undef X
};

static const char *const attribute_names[ART_N_NAMES] = {
#define X(id, name, inherited, field, parser) [ART_P_##id] = name,
    ART_PROPERTIES(X)
#undef X
#define X(id, name) [ART_AT_##id] = name,
        ART_ATTRIBUTES(X)
#undef X
};

const char *dt_art_name_text(ArtName name)
{
    return attribute_names[name];
}

static GHashTable *table_of(const char *const *names, int n)
{
    GHashTable *t = g_hash_table_new(g_str_hash, g_str_equal);
    for (int i = 1; i < n; i++)
        if (names[i] && names[i][0])
            g_hash_table_insert(t, (void *)names[i], GINT_TO_POINTER(i));
    return t;
}

ArtTag dt_art_tag_of(const char *name)
{
    static GHashTable *table;
    if (g_once_init_enter(&table))
        g_once_init_leave(&table, table_of(tag_names, ART_N_TAGS));
    return (ArtTag)GPOINTER_TO_INT(g_hash_table_lookup(table, name));
}

ArtName dt_art_name_of(const char *name)
{
    static GHashTable *table;
    if (g_once_init_enter(&table))
        g_once_init_leave(&table, table_of(attribute_names, ART_N_NAMES));
    return (ArtName)GPOINTER_TO_INT(g_hash_table_lookup(table, name));
}

/* libxml2 interns names, so that most look-ups compare pointers. */
static ArtTag tag_cached(Builder *b, const xmlChar *name, ArtKnown *known)
{
    gsize slot = ((gsize)name >> 3) % NAME_CACHE;
    if (b->tags[slot].key != name) {
        b->tags[slot].key = name;
        b->tags[slot].id = (int)dt_art_tag_of((const char *)name);
        b->tags[slot].known = dt_art_known_element((const char *)name);
    }
    *known = b->tags[slot].known;
    return (ArtTag)b->tags[slot].id;
}

static ArtName name_cached(Builder *b, const xmlChar *name, ArtKnown *known)
{
    gsize slot = ((gsize)name >> 3) % NAME_CACHE;
    if (b->names[slot].key != name) {
        b->names[slot].key = name;
        b->names[slot].id = (int)dt_art_name_of((const char *)name);
        b->names[slot].known = dt_art_known_attribute((const char *)name);
    }
    *known = b->names[slot].known;
    return (ArtName)b->names[slot].id;
}

/* What is not drawn is noted once there is a reader to note it. */
static void tell_undrawn(Builder *b, const ArtNode *n, const char *name, const char *why)
{
    GPtrArray *all = b->doc->undrawn;
    if (all->len == MAX_UNDRAWN)
        return;
    ArtUndrawn *u = dt_art_store_alloc(b->doc->tree, sizeof *u);
    *u = (ArtUndrawn){n, dt_art_store_text(b->doc->tree, name, strlen(name)), why};
    g_ptr_array_add(all, u);
}

/* Building ------------------------------------------------------------------------------------- */

static void build_fail(Builder *b, const char *message)
{
    if (!b->error)
        g_set_error(&b->error, DT_ERROR, DT_ERROR_INPUT, "%s:%d: %s", b->doc->name,
                    xmlSAX2GetLineNumber(b->xml), message);
    xmlStopParser(b->xml);
}

/* The line where the element's tag begins: the parser reports the line where it ends. */
static int line_of_tag(const Builder *b)
{
    const xmlParserInput *in = b->xml->input;
    int line = in->line;
    if (b->xml->inputNr != 1 || !in->cur || in->cur <= in->base)
        return line;
    gsize len = (gsize)(in->cur - in->base);
    const xmlChar *open = memrchr(in->base, '<', len);
    if (!open)
        return line;
    for (const xmlChar *p = open; (p = memchr(p, '\n', (gsize)(in->cur - p))); p++)
        line--;
    return line;
}

static gboolean holds_words(ArtTag tag)
{
    return tag == ART_TAG_TEXT || tag == ART_TAG_STYLE || tag == ART_TAG_TITLE;
}

static ArtNode *new_node(Builder *b, ArtTag tag)
{
    ArtNode *n = dt_art_store_zero(b->doc->tree, sizeof *n);
    n->tag = tag;
    n->parent = b->at;
    if (b->at) {
        n->before = b->at->last;
        if (b->at->last)
            b->at->last->next = n;
        else
            b->at->first = n;
        b->at->last = n;
    }
    b->doc->n_nodes++;
    return n;
}

/* Whether an attribute is relevant; *name and *key identify it. */
static gboolean attribute_name(Builder *b, const xmlChar **a, ArtName *name, const char **key,
                               ArtKnown *known)
{
    *known = ART_KNOWN_NOTHING;
    const char *local = (const char *)a[0], *prefix = (const char *)a[1];
    const char *uri = (const char *)a[2];
    if (!prefix) {
        *name = name_cached(b, a[0], known);
        *key = local;
        return TRUE;
    }
    if (strcmp(prefix, "xml") == 0) {
        *name = strcmp(local, "space") == 0  ? ART_P_XML_SPACE
                : strcmp(local, "lang") == 0 ? ART_P_XML_LANG
                : strcmp(local, "id") == 0   ? ART_AT_ID
                                             : ART_NAME_OTHER;
        *key = *name == ART_AT_ID ? "id" : *name == ART_P_XML_LANG ? "xml:lang" : "xml:space";
        return *name != ART_NAME_OTHER;
    }
    gboolean xlink = uri ? strcmp(uri, XLINK_NAMESPACE) == 0 : strcmp(prefix, "xlink") == 0;
    if (xlink && strcmp(local, "href") == 0) {
        *name = ART_AT_XLINK_HREF;
        *key = "xlink:href";
        return TRUE;
    }
    return FALSE;
}

/* What the finished drawing names, which outlives the source. Elements of one class often follow
 * one another. */
static const char *lasting_text(Builder *b, ArtName name, const char *from, const char *to)
{
    const gsize len = (gsize)(to - from);
    const char *last = b->last_classes;
    if (name == ART_AT_CLASS && last && strncmp(last, from, len) == 0 && last[len] == '\0')
        return last;
    const char *text = dt_art_store_text(b->doc->store, from, len);
    if (name == ART_AT_CLASS)
        b->last_classes = text;
    return text;
}

/* The value NUL-terminated, in place in the source if it is unchanged: the NUL replaces its
 * closing quote, which has been read. */
static const char *value_text(Builder *b, ArtName name, const char *from, const char *to)
{
    char *source = b->doc->source;
    if (name == ART_AT_ID || name == ART_AT_CLASS)
        return lasting_text(b, name, from, to);
    if (from >= source && to < b->source_end) {
        source[to - source] = '\0';
        return source + (from - source);
    }
    return dt_art_store_text(b->doc->tree, from, (gsize)(to - from));
}

static void take_attributes(Builder *b, ArtNode *n, int n_attributes, const xmlChar **attributes)
{
    ArtStore *store = b->doc->tree;
    ArtAttr *attrs = dt_art_store_alloc(store, (gsize)n_attributes * sizeof *attrs);
    unsigned count = 0;
    for (int i = 0; i < n_attributes; i++) {
        const xmlChar **a = attributes + 5 * i;
        ArtName name;
        const char *key;
        ArtKnown known;
        if (!attribute_name(b, a, &name, &key, &known))
            continue;
        if (name == ART_NAME_OTHER && (known == ART_KNOWN_NOT || known == ART_KNOWN_NOTED) &&
            n->tag != ART_TAG_OTHER)
            tell_undrawn(b, n, key,
                         known == ART_KNOWN_NOT ? N_("there is no attribute %s: ignored")
                                                : N_("the attribute %s is not drawn"));
        const char *value = value_text(b, name, (const char *)a[3], (const char *)a[4]);
        if (name == ART_NAME_OTHER)
            key = dt_art_store_text(store, key, strlen(key));
        else
            key = attribute_names[name];
        attrs[count++] = (ArtAttr){name, key, value};
        if (name == ART_AT_ID)
            n->id = value;
        else if (name == ART_AT_CLASS)
            n->classes = value;
    }
    n->attrs = attrs;
    n->n_attrs = count;
}

static void on_start(void *user, const xmlChar *local, const xmlChar *prefix, const xmlChar *uri,
                     int n_namespaces, const xmlChar **namespaces, int n_attributes,
                     int n_defaulted, const xmlChar **attributes)
{
    (void)prefix, (void)n_namespaces, (void)namespaces, (void)n_defaulted;
    Builder *b = user;
    if (!b->error && !dt_work_check(&b->error))
        xmlStopParser(b->xml);
    if (b->error)
        return;
    dt_work_report(0.5 * (double)(b->xml->input->cur - b->xml->input->base) /
                   (double)(b->source_end - b->doc->source));
    gboolean ours = !uri || strcmp((const char *)uri, SVG_NAMESPACE) == 0;
    gboolean sheet = uri && strcmp((const char *)uri, XHTML_NAMESPACE) == 0 &&
                     strcmp((const char *)local, "style") == 0;
    if (b->foreign == 0 && b->at && !uri && b->doc->namespaced) {
        tell_undrawn(b, b->at, (const char *)local,
                     "<%s> is in no namespace, so it is not an SVG element: left out");
        ours = FALSE;
    }
    if (b->foreign == 0 && b->at && uri && strcmp((const char *)uri, XHTML_NAMESPACE) == 0 &&
        strcmp((const char *)local, "link") == 0)
        tell_undrawn(b, b->at, "link", "a style sheet by <%s> is not fetched: left out");
    if (b->foreign > 0 || (!ours && !sheet && b->at)) {
        b->foreign++;
        return;
    }
    ours |= sheet;
    ArtKnown known = ART_KNOWN_NOTHING;
    ArtTag tag = ours ? tag_cached(b, local, &known) : ART_TAG_OTHER;
    if (!b->at && tag != ART_TAG_SVG) {
        g_autofree char *text =
            g_strdup_printf(_("not an SVG drawing: its first element is <%s>, not <svg>"), local);
        build_fail(b, text);
        return;
    }
    ArtNode *n = new_node(b, tag);
    n->line = line_of_tag(b);
    n->local = tag == ART_TAG_OTHER ? dt_art_store_text(b->doc->tree, (const char *)local,
                                                        strlen((const char *)local))
                                    : tag_names[tag];
    if (!b->at) {
        b->doc->namespaced = uri != NULL;
        if (!uri)
            tell_undrawn(b, n, "svg", "<%s> is in no namespace: browsers show nothing of the file");
    }
    if (tag == ART_TAG_OTHER && known == ART_KNOWN_NOTED)
        tell_undrawn(b, n, n->local, "<%s> is not drawn: left out");
    else if (tag == ART_TAG_OTHER && known == ART_KNOWN_NOT)
        tell_undrawn(b, n, n->local, "there is no element <%s>: left out");
    if (n_attributes > 0)
        take_attributes(b, n, n_attributes, attributes);
    if (tag == ART_TAG_STYLE)
        b->doc->has_sheets = TRUE;
    if (holds_words(tag) || b->words_depth > 0)
        b->words_depth++;
    if (!b->doc->root)
        b->doc->root = n;
    b->at = n;
}

static void on_end(void *user, const xmlChar *local, const xmlChar *prefix, const xmlChar *uri)
{
    (void)local, (void)prefix, (void)uri;
    Builder *b = user;
    if (b->error)
        return;
    if (b->foreign > 0) {
        b->foreign--;
        return;
    }
    if (b->words_depth > 0)
        b->words_depth--;
    if (b->at)
        b->at = b->at->parent;
}

static void on_words(void *user, const xmlChar *text, int len)
{
    Builder *b = user;
    if (b->error || b->words_depth == 0 || b->foreign > 0 || !b->at)
        return;
    ArtStore *store = b->at->tag == ART_TAG_TITLE ? b->doc->store : b->doc->tree;
    ArtNode *last = b->at->last;
    if (last && last->tag == ART_TAG_WORDS && len < 256 && strlen(last->words) < 1024) {
        char *joined = g_strndup(last->words, strlen(last->words) + (gsize)len);
        memcpy(joined + strlen(last->words), text, (gsize)len);
        joined[strlen(last->words) + (gsize)len] = '\0';
        last->words = dt_art_store_text(store, joined, strlen(joined));
        g_free(joined);
        return;
    }
    ArtNode *n = new_node(b, ART_TAG_WORDS);
    n->line = xmlSAX2GetLineNumber(b->xml);
    n->local = "";
    n->words = dt_art_store_text(store, (const char *)text, (gsize)len);
}

/* Entities ------------------------------------------------------------------------------------- */

static void on_start_document(void *user)
{
    xmlSAX2StartDocument(((Builder *)user)->xml);
}

static void on_subset(void *user, const xmlChar *name, const xmlChar *id, const xmlChar *system)
{
    xmlSAX2InternalSubset(((Builder *)user)->xml, name, id, system);
}

static void on_entity_declared(void *user, const xmlChar *name, int type, const xmlChar *public_id,
                               const xmlChar *system_id, xmlChar *content)
{
    Builder *b = user;
    if (type == XML_INTERNAL_GENERAL_ENTITY || type == XML_INTERNAL_PARAMETER_ENTITY)
        xmlSAX2EntityDecl(b->xml, name, type, public_id, system_id, content);
}

/* Every use of an entity counts with its length, so that nested entities cannot expand beyond
 * the limit. */
static xmlEntityPtr counted(Builder *b, xmlEntityPtr e)
{
    if (!e || e->etype == XML_INTERNAL_PREDEFINED_ENTITY)
        return e;
    b->entity_bytes += (gsize)MAX(e->length, 0) + 16;
    if (b->entity_bytes > ART_MAX_ENTITY_BYTES) {
        build_fail(b, "its entities expand to more than 16 MB");
        return NULL;
    }
    return e;
}

static xmlEntityPtr on_entity(void *user, const xmlChar *name)
{
    Builder *b = user;
    return b->error ? NULL : counted(b, xmlSAX2GetEntity(b->xml, name));
}

static xmlEntityPtr on_parameter_entity(void *user, const xmlChar *name)
{
    Builder *b = user;
    return b->error ? NULL : counted(b, xmlSAX2GetParameterEntity(b->xml, name));
}

static xmlParserInputPtr on_external(void *user, const xmlChar *public_id, const xmlChar *system_id)
{
    (void)user, (void)public_id, (void)system_id;
    return NULL;
}

static void on_message(void *user, xmlErrorPtr e)
{
    Builder *b = user;
    if (b->error || e->level != XML_ERR_FATAL)
        return;
    g_autofree char *text = g_strchomp(g_strdup(e->message ? e->message : "malformed"));
    g_set_error(&b->error, DT_ERROR, DT_ERROR_INPUT, "%s:%d: not well-formed XML: %s", b->doc->name,
                MAX(e->line, 1), text);
}

static void on_instruction(void *user, const xmlChar *target, const xmlChar *text)
{
    Builder *b = user;
    if (text && strcmp((const char *)target, "xml-stylesheet") == 0)
        b->doc->outside_sheet = MAX(xmlSAX2GetLineNumber(b->xml), 1);
}

static void handlers(xmlSAXHandler *h)
{
    *h = (xmlSAXHandler){
        .initialized = XML_SAX2_MAGIC,
        .startDocument = on_start_document,
        .internalSubset = on_subset,
        .entityDecl = on_entity_declared,
        .getEntity = on_entity,
        .getParameterEntity = on_parameter_entity,
        .resolveEntity = on_external,
        .startElementNs = on_start,
        .endElementNs = on_end,
        .characters = on_words,
        .ignorableWhitespace = on_words,
        .cdataBlock = on_words,
        .processingInstruction = on_instruction,
        .serror = on_message,
    };
}

/* UTF-8 is parsed in place; libxml2 converts all other encodings into a copy. */
static gboolean is_plainly_utf8(const char *text, gsize len)
{
    if (len < 4 || text[0] != '<' ||
        !(text[1] == '?' || text[1] == '!' || g_ascii_isalpha(text[1])))
        return FALSE;
    if (strncmp(text, "<?xml", 5) != 0)
        return TRUE;
    const char *end = strstr(text, "?>");
    const char *encoding = g_strstr_len(text, end ? end - text : 0, "encoding");
    if (!encoding)
        return end != NULL;
    encoding += strcspn(encoding, "\"'>");
    return g_ascii_strncasecmp(encoding + (*encoding != '\0'), "utf-8", 5) == 0;
}

/* libxml2 compares each attribute of an element with all others, so that a few hundred thousand
 * of them would take hours. The line of the first element with too many; 0 if there is none. */
static int line_of_crowd(const char *text, gsize len)
{
    enum { LONG = 65536 };
    const char *end = text + len, *next;
    for (const char *at = memchr(text, '<', len); at; at = next) {
        next = memchr(at + 1, '<', (gsize)(end - at - 1));
        const char *stop = next ? next : end;
        if (stop - at < LONG || strchr("!?/", at[1]))
            continue;
        int count = 0;
        for (const char *p = at; p && p < stop && *p != '>'; p++) {
            if (*p == '"' || *p == '\'')
                p = memchr(p + 1, *p, (gsize)(stop - p - 1));
            if (!p)
                break;
            count += *p == '=';
        }
        if (count > ART_MAX_ATTRIBUTES) {
            int line = 1;
            for (const char *p = text; (p = memchr(p, '\n', (gsize)(at - p))); p++)
                line++;
            return line;
        }
    }
    return 0;
}

static xmlParserCtxtPtr new_parser(ArtDoc *doc, gsize len)
{
    char *source = doc->source;
    if (!is_plainly_utf8(source, len))
        return xmlCreateMemoryParserCtxt(source, (int)len);
    xmlParserCtxtPtr xml = xmlNewParserCtxt();
    xmlParserInputPtr in = xml ? xmlNewStringInputStream(xml, (const xmlChar *)source) : NULL;
    if (!in || inputPush(xml, in) < 0) {
        xmlFreeParserCtxt(xml);
        return NULL;
    }
    in->end = in->base + len; /* a NUL within the file is an error, not its end */
    in->length = (int)len;
    return xml;
}

gboolean dt_art_xml_parse(ArtDoc *doc, gsize len, GError **error)
{
    if (len == 0) {
        g_set_error(error, DT_ERROR, DT_ERROR_INPUT, "%s:1: the file is empty", doc->name);
        return FALSE;
    }
    int crowded = line_of_crowd(doc->source, len);
    if (crowded > 0) {
        g_set_error(error, DT_ERROR, DT_ERROR_INPUT,
                    "%s:%d: an element has more than %d attributes", doc->name, crowded,
                    ART_MAX_ATTRIBUTES);
        return FALSE;
    }
    xmlParserCtxtPtr xml = new_parser(doc, len);
    if (!xml) {
        g_set_error(error, DT_ERROR, DT_ERROR_IO, "%s: not enough memory to read it", doc->name);
        return FALSE;
    }
    Builder b = {.doc = doc, .xml = xml, .source_end = doc->source + len};
    xmlCtxtUseOptions(xml, XML_PARSE_NONET | XML_PARSE_NOENT | XML_PARSE_HUGE);
    handlers(xml->sax);
    xml->userData = &b;
    xmlParseDocument(xml);
    if (!b.error && !xml->wellFormed)
        g_set_error(&b.error, DT_ERROR, DT_ERROR_INPUT, "%s:%d: not well-formed XML", doc->name,
                    MAX(xml->lastError.line, 1));
    if (!b.error && !doc->root)
        g_set_error(&b.error, DT_ERROR, DT_ERROR_INPUT, "%s:1: there is no <svg> in it", doc->name);
    if (xml->myDoc)
        xmlFreeDoc(xml->myDoc);
    xml->myDoc = NULL;
    xmlFreeParserCtxt(xml);
    if (b.error) {
        g_propagate_error(error, b.error);
        return FALSE;
    }
    return TRUE;
}

void dt_art_doc_clear(ArtDoc *doc)
{
    if (doc->by_id)
        g_hash_table_unref(doc->by_id);
    doc->by_id = NULL;
    if (doc->undrawn)
        g_ptr_array_unref(doc->undrawn);
    doc->undrawn = NULL;
    g_clear_pointer(&doc->tree, dt_art_store_free);
    g_clear_pointer(&doc->source, g_free);
}

ArtNode *dt_art_next_node(const ArtNode *n)
{
    if (n->first)
        return n->first;
    while (n && !n->next)
        n = n->parent;
    return n ? n->next : NULL;
}

const char *dt_art_attr(const ArtNode *n, ArtName name)
{
    for (unsigned i = 0; i < n->n_attrs; i++)
        if (n->attrs[i].name == name)
            return n->attrs[i].value;
    return NULL;
}

const char *dt_art_href(const ArtNode *n)
{
    const char *href = dt_art_attr(n, ART_AT_HREF);
    if (!href)
        href = dt_art_attr(n, ART_AT_XLINK_HREF);
    if (!href)
        return NULL;
    href = art_skip_space(href);
    return *href ? href : NULL;
}

/* Made when the first reference needs it: large drawings with many ids often have no reference. */
static void gather_ids(ArtDoc *doc)
{
    doc->by_id = g_hash_table_new(g_str_hash, g_str_equal);
    for (ArtNode *n = doc->root; n; n = dt_art_next_node(n))
        if (n->id && !g_hash_table_contains(doc->by_id, n->id))
            g_hash_table_insert(doc->by_id, (void *)n->id, n);
}

ArtNode *dt_art_target(ArtDoc *doc, const char *reference)
{
    if (!reference || reference[0] != '#')
        return NULL;
    if (!doc->by_id)
        gather_ids(doc);
    ArtNode *n = g_hash_table_lookup(doc->by_id, reference + 1);
    if (n || !strpbrk(reference, " %"))
        return n;
    g_autofree char *plain = g_uri_unescape_string(reference + 1, NULL);
    if (!plain)
        return NULL;
    return g_hash_table_lookup(doc->by_id, g_strstrip(plain));
}
