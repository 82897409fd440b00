/* art-later: being built. */
#include "art-private.h"
void art_pattern_fill(ArtReader *r, const ArtNode *n, ArtNode *pattern, const ArtScope *scope,
                      const ArtStyle *s, DtBox box, int clip, double alpha)
{
    (void)r, (void)n, (void)pattern, (void)scope, (void)s, (void)box, (void)clip, (void)alpha;
}
void art_markers(ArtReader *r, const ArtNode *n, const ArtScope *scope, const ArtStyle *s,
                 const DtPath *path)
{
    (void)r, (void)n, (void)scope, (void)s, (void)path;
}
void art_text(ArtReader *r, ArtNode *n, const ArtScope *scope, const ArtStyle *s)
{
    (void)scope, (void)s;
    art_note(r, n->line, "text is not drawn");
}
void art_image(ArtReader *r, ArtNode *n, const ArtScope *scope, const ArtStyle *s)
{
    (void)scope, (void)s;
    art_note(r, n->line, "images are not drawn");
}
