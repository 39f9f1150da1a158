/* The picture, looked at pixel by pixel where that says something. */
#include <cairo.h>
#include <criterion/criterion.h>
#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/resource.h>

#include "picture.h"
#include "picture_private.h"
#include "scratch.h"

#define S INT64_C(1000000000000)

/* fontconfig keeps what it has read until the program ends; that is not for us to free. */
const char *__lsan_default_suppressions(void);
const char *__lsan_default_suppressions(void)
{
    return "leak:libfontconfig\n";
}

static hy_diag diag;

TestSuite(picture, .init = scratch_begin, .fini = scratch_end);

static hy_picture *good(const char *path, uint32_t rate, int64_t ps)
{
    hy_picture *picture = hy_picture_open(path, rate, ps, "A test of \u00fc and \xff", "A note", &diag);
    cr_assert_not_null(picture, "%s", diag.text);
    return picture;
}

static void done(hy_picture *picture)
{
    cr_assert_eq(hy_picture_finish(picture, &diag), 0, "%s", diag.text);
    cr_assert_eq(hy_picture_commit(picture, &diag), 0, "%s", diag.text);
}

static void tone(hy_picture *picture, uint32_t rate, size_t count, double hz)
{
    float block[100];
    for (size_t at = 0; at < count; at += 100) {
        size_t n = count - at < 100 ? count - at : 100;
        for (size_t i = 0; i < n; i++) {
            block[i] = (float)(0.5 * sin(2 * 3.14159265358979323846 * hz * (double)(at + i) / rate));
        }
        hy_picture_frames(picture, block, n);
    }
}

/* Sum of red, green and blue. */
static int light(cairo_surface_t *image, int x, int y)
{
    const unsigned char *p = cairo_image_surface_get_data(image) + y * cairo_image_surface_get_stride(image) + 4 * x;
    return p[0] + p[1] + p[2];
}

static cairo_surface_t *load(const char *path)
{
    cairo_surface_t *image = cairo_image_surface_create_from_png(path);
    cr_assert_eq(cairo_surface_status(image), CAIRO_STATUS_SUCCESS);
    cr_assert_eq(cairo_image_surface_get_width(image), HY_PAGE_WIDTH);
    cr_assert_eq(cairo_image_surface_get_height(image), HY_PAGE_HEIGHT);
    return image;
}

/* The spectrogram's frame: its upper edge, found as the first row that is ruled from end to end. */
static int top_of_spectrum(cairo_surface_t *image)
{
    for (int y = 60; y < 300; y++) {
        int ruled = 1;
        for (int x = HY_PLOT_X + 3; ruled && x < HY_PLOT_X + HY_COLUMNS; x += 7) {
            ruled = light(image, x, y) < 700;
        }
        if (ruled) {
            return y + 1;
        }
    }
    cr_assert_fail("no frame");
    return 0;
}

Test(picture, the_note_stands_at_the_bottom)
{
    static const char *const notes[] = {"", "The default part is an ESTIMATE"};
    for (int i = 0; i < 2; i++) {
        hy_picture *picture = hy_picture_open(scratch("a.png"), 48000, S, "A title", notes[i], &diag);
        cr_assert_not_null(picture, "%s", diag.text);
        done(picture);
        cairo_surface_t *image = load(scratch("a.png"));
        int dark = 0;
        for (int y = HY_PAGE_HEIGHT - 22; y < HY_PAGE_HEIGHT; y++) {
            for (int x = HY_PLOT_X + 20; x < HY_PLOT_X + 180; x++) {
                dark += light(image, x, y) < 500;
            }
        }
        cr_expect(i == 0 ? dark == 0 : dark > 100, "%d dark dots under \"%s\"", dark, notes[i]);
        cairo_surface_destroy(image);
    }
}

Test(picture, a_tone_stands_at_its_frequency)
{
    static const double hz[] = {500, 2000, 7900};
    for (int i = 0; i < 3; i++) {
        hy_picture *picture = good(scratch("a.png"), 48000, S);
        tone(picture, 48000, 48000, hz[i]);
        done(picture);
        cairo_surface_t *image = load(scratch("a.png"));
        int top = top_of_spectrum(image);
        for (int x = HY_PLOT_X + 100; x < HY_PLOT_X + HY_COLUMNS - 100; x += 200) {
            int darkest = top;
            int sum = 0;
            int count = 0;
            for (int y = top; y < top + HY_ROWS; y++) {
                if (light(image, x, y) < light(image, x, darkest)) {
                    darkest = y;
                }
            }
            for (int y = top; y < top + HY_ROWS; y++) { /* the middle of the darkest stretch */
                if (light(image, x, y) <= light(image, x, darkest)) {
                    sum += y;
                    count++;
                }
            }
            double found = 10000 * (1 - ((double)sum / count + 0.5 - top) / HY_ROWS);
            cr_assert_float_eq(found, hz[i], 60, "%g Hz at %g", hz[i], found);
            cr_assert_lt(light(image, x, darkest), 200);
        }
        cairo_surface_destroy(image);
    }
}

Test(picture, a_sound_stands_at_its_time)
{
    enum { RATE = 20000, COUNT = 40000 };
    hy_picture *picture = good(scratch("a.png"), RATE, 2 * S);
    float *frames = calloc(COUNT, sizeof *frames);
    for (int i = COUNT / 2; i < COUNT * 3 / 4; i++) {
        frames[i] = i % 8 < 4 ? 0.5f : -0.5f; /* 2500 Hz */
    }
    hy_picture_frames(picture, frames, COUNT);
    free(frames);
    done(picture);
    cairo_surface_t *image = load(scratch("a.png"));
    int y = top_of_spectrum(image) + HY_ROWS * 3 / 4;
    cr_assert_gt(light(image, HY_PLOT_X + HY_COLUMNS / 2 - 10, y), 700);
    cr_assert_lt(light(image, HY_PLOT_X + HY_COLUMNS / 2 + 10, y), 250);
    cr_assert_lt(light(image, HY_PLOT_X + HY_COLUMNS * 3 / 4 - 10, y), 250);
    cr_assert_gt(light(image, HY_PLOT_X + HY_COLUMNS * 3 / 4 + 10, y), 700);
    cairo_surface_destroy(image);
}

static void everything(const char *path, int64_t ps, uint32_t rate, size_t samples, int phonemes)
{
    hy_picture *picture = good(path, rate, ps);
    tone(picture, rate, samples, 1234);
    hy_picture_clock(picture, 0, 720e3, ps / 2, 720e3);
    hy_picture_clock(picture, ps / 2, 720e3, ps, 0);
    for (int i = 0; i < phonemes; i++) {
        int64_t at = ps / phonemes * i;
        hy_picture_latch(picture, at, (unsigned)i);
        hy_picture_request(picture, at, 0);
        hy_picture_request(picture, at + ps / phonemes / 2, 1);
        hy_picture_mark(picture, at, "a mark of some length");
    }
    hy_picture_mark(picture, ps, "end\n\xfe");
    done(picture);
}

Test(picture, two_runs_give_the_same_bytes)
{
    everything(scratch("a.png"), S, 48000, 48000, 12);
    everything(scratch("b.png"), S, 48000, 48000, 12);
    scratch_same(scratch("a.png"), scratch("b.png"));
}

Test(picture, any_length)
{
    everything(scratch("a.png"), 0, 48000, 0, 1);
    everything(scratch("a.png"), 1, 48000, 0, 1);
    everything(scratch("a.png"), S / 1000, 8000, 8, 3);
    everything(scratch("a.png"), S / 1000, 192000, 192, 1);
    everything(scratch("a.png"), 60 * S, 8000, 480000, 5000);
    everything(scratch("a.png"), 86400 * S, 8000, 1000, 100); /* fewer samples than were promised */
    everything(scratch("a.png"), S / 100, 8000, 100000, 100); /* more */
    everything(scratch("a.png"), 86400 * 40 * S, 48000, 0, 10);
    cairo_surface_destroy(load(scratch("a.png")));
    cr_assert_eq(scratch_count(), 1);
}

Test(picture, odd_values_do_no_harm)
{
    const float odd[] = {NAN, INFINITY, -INFINITY, 1e30f, -1e30f, 1e-40f};
    hy_picture *picture = good(scratch("a.png"), 48000, S / 1000);
    for (int i = 0; i < 8; i++) {
        hy_picture_frames(picture, odd, 6);
    }
    hy_picture_clock(picture, 0, 0, S, 0);
    hy_picture_clock(picture, S, 1, S / 2, 1);
    hy_picture_clock(picture, 0, 1e-3, S / 2000, 100e6);
    hy_picture_latch(picture, S, 255);
    hy_picture_request(picture, S, 7);
    hy_picture_mark(picture, 2 * S, "");
    done(picture);
}

/* Hours of events: the memory must not grow with them. */
Test(picture, memory_is_bounded)
{
#if defined(__SANITIZE_ADDRESS__)
    cr_skip("the address sanitizer holds back what is freed");
#elif defined(__has_feature)
#if __has_feature(address_sanitizer)
    cr_skip("the address sanitizer holds back what is freed");
#endif
#endif
    struct rusage before;
    struct rusage after;
    everything(scratch("a.png"), S, 48000, 48000, 100);
    getrusage(RUSAGE_SELF, &before);
    everything(scratch("a.png"), 86400 * S, 8000, 2000000, 500000);
    getrusage(RUSAGE_SELF, &after);
    cr_assert_lt(after.ru_maxrss - before.ru_maxrss, 20000, "KiB");
}

Test(picture, a_full_disk_is_told_and_nothing_is_left)
{
    hy_picture *full = hy_picture_open("/dev/full", 48000, S, "x", "", &diag);
    cr_assert_eq(hy_picture_finish(full, &diag), 0);
    cr_assert_eq(hy_picture_commit(full, &diag), -1);
    cr_assert_str_eq(diag.text, "cannot write /dev/full: the disk is full");
    hy_picture_abandon(good(scratch("a.png"), 48000, S));
    hy_picture_abandon(NULL);
    cr_assert_eq(scratch_count(), 0);
    diag.text[0] = '\0';
    cr_assert_null(hy_picture_open(scratch("none/a.png"), 48000, S, "x", "", &diag));
    cr_assert_not_null(strstr(diag.text, "does not exist"));
}
