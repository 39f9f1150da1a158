/* `hyoid live` without a sound device: a session whose player the test runs itself. */
#ifndef HY_TEST_LIVE_STAGE_H
#define HY_TEST_LIVE_STAGE_H

#include <criterion/criterion.h>
#include <string.h>

#include "../../frontends/live/session.h"

static inline hy_live_session *stage(const char *score_text, hy_score **score)
{
    hy_diag diag = {""};
    *score = NULL;
    if (score_text != NULL) {
        FILE *in = tmpfile();
        cr_assert_not_null(in);
        fputs(score_text, in);
        rewind(in);
        *score = hy_score_read(in, "t.score", &diag);
        fclose(in);
        cr_assert_not_null(*score, "%s", diag.text);
    }
    const hyoid_part *part = hyoid_part_default();
    const hy_live_options options = {.part = part,
                                     .score = *score,
                                     .score_name = "t.score",
                                     .rate = 48000,
                                     .bits = 32,
                                     .clock_hz = part->nominal_hz,
                                     .level = 1};
    hy_live_session *session = hy_live_session_new(&options, &diag);
    cr_assert_not_null(session, "%s", diag.text);
    return session;
}

/* Lets `frames` frames sound. */
static inline void sound(hy_live_session *session, size_t frames)
{
    float out[1000];
    hy_diag diag = {""};
    while (frames > 0) {
        const size_t n = frames < 1000 ? frames : 1000;
        hy_player_render(session->player, out, n, 1);
        cr_assert_eq(hy_live_session_tick(session, &diag), 0, "%s", diag.text);
        frames -= n;
    }
}

static inline void command(hy_live_session *session, const char *line)
{
    hy_diag diag = {""};
    cr_assert_eq(hy_live_session_line(session, line, &diag), 0, "%s: %s", line, diag.text);
}

#endif
