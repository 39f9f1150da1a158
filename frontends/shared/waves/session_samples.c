/* The samples of a session, piece by piece. Most samples are like the one before them, and are passed over eight bytes at a time. */
#include <string.h>
#include <zip.h>

#include "waves/session_private.h"

#define BYTES_MAX (UINT64_C(1) << 37) /* unpacked; a capture that large is a bomb */

int64_t hy_session_time(const hy_session *s, uint64_t sample)
{
    double rate = s->meta.rate;
    uint64_t each = (uint64_t)rate;
    if ((double)each != rate) {
        return (int64_t)((double)sample * (1e12 / rate) + 0.5);
    }
    return (int64_t)(sample / each) * INT64_C(1000000000000) +
           (int64_t)((double)(sample % each) * (1e12 / rate) + 0.5);
}

static int tell_sample(hy_session *s, const unsigned char *sample, uint64_t number, const hy_vcd_listener *listener)
{
    int64_t ps = hy_session_time(s, number);
    hy_channels *c = &s->meta.channels;
    for (unsigned i = 0; i < c->count; i++) {
        unsigned place = c->all[i].place;
        char level = (sample[place / 8] >> (place % 8) & 1) != 0 ? '1' : '0';
        if (c->all[i].level != level && hy_channels_tell(c, i, ps, level, listener) != 0) {
            return -1;
        }
    }
    return 0;
}

/* The first byte of p[0..n) that differs from the one a sample before it; n: none. */
static size_t first_news(const unsigned char *p, size_t n, unsigned unit)
{
    const unsigned char *earlier = p - unit;
    size_t i = 0;
    for (; i + 8 <= n; i += 8) {
        uint64_t now;
        uint64_t before;
        memcpy(&now, p + i, sizeof now);
        memcpy(&before, earlier + i, sizeof before);
        if (now != before) {
            break;
        }
    }
    while (i < n && p[i] == earlier[i]) {
        i++;
    }
    return i;
}

/* The samples in `count` whole ones that stand behind the one before them. */
static int tell_block(hy_session *s, size_t bytes, const hy_vcd_listener *listener)
{
    unsigned unit = s->meta.unit;
    const unsigned char *data = s->block + unit;
    size_t at = 0;
    if (s->samples == 0) {
        if (tell_sample(s, data, 0, listener) != 0) {
            return -1;
        }
        at = unit;
    }
    while ((at += first_news(data + at, bytes - at, unit)) < bytes) {
        at -= at % unit;
        if (tell_sample(s, data + at, s->samples + at / unit, listener) != 0) {
            return -1;
        }
        at += unit;
    }
    s->samples += bytes / unit;
    memmove(s->block, data + bytes - unit, unit);
    return 0;
}

int hy_session_piece(hy_session *s, unsigned number, const hy_vcd_listener *listener)
{
    unsigned unit = s->meta.unit;
    zip_file_t *file = zip_fopen_index(s->archive, s->pieces[number] - 1, 0);
    if (file == NULL) {
        return hy_fail(s->diag, "%s: %s-%u can't be read: %s", s->name, s->meta.file, number + 1,
                       zip_strerror(s->archive));
    }
    uint64_t total = 0;
    size_t rest = 0;
    zip_int64_t got;
    int failed = 0;
    while (!failed &&
           (got = zip_fread(file, s->block + unit + rest, HY_SESSION_BLOCK - HY_SESSION_UNIT_MAX - rest)) > 0) {
        total += (uint64_t)got;
        size_t bytes = rest + (size_t)got;
        rest = bytes % unit;
        unsigned char odd[HY_SESSION_UNIT_MAX];
        memcpy(odd, s->block + unit + bytes - rest, rest);
        failed = bytes > rest && tell_block(s, bytes - rest, listener) != 0;
        memcpy(s->block + unit, odd, rest);
        if (!failed && s->samples * unit > BYTES_MAX) {
            failed = hy_fail(s->diag, "%s: more than 128 GiB of samples; a shorter capture would be right", s->name);
        } else if (!failed && (double)s->samples > 4e6 * s->meta.rate) {
            failed = hy_fail(s->diag, "%s: longer than 4000000 seconds (46 days)", s->name);
        }
    }
    if (!failed && got < 0) {
        failed = hy_fail(s->diag, "%s: %s-%u is damaged at byte %llu: %s", s->name, s->meta.file, number + 1,
                         (unsigned long long)total, zip_file_strerror(file));
    }
    if (!failed && rest > 0) {
        failed = hy_fail(s->diag, "%s: %s-%u ends at byte %llu within a sample of %u bytes", s->name, s->meta.file,
                         number + 1, (unsigned long long)total, unit);
    }
    zip_fclose(file);
    return failed ? -1 : 0;
}
