#include "front.h"

int hy_front_built_in(void)
{
    return 0;
}

hy_front *hy_front_new(hy_diag *diag)
{
    hy_fail(diag, "spell was built without flite, which knows how words are pronounced; with Debian's "
                  "flite1-dev installed, build it again");
    return NULL;
}

void hy_front_free(hy_front *front)
{
    (void)front;
}

int hy_front_phrase(hy_front *front, hy_phrase *phrase, hy_diag *diag)
{
    (void)front;
    (void)phrase;
    return hy_fail(diag, "built without flite");
}
