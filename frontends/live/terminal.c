#include "terminal.h"

#include <curses.h>
#include <langinfo.h>
#include <limits.h>
#include <locale.h>
#include <poll.h>
#include <stdlib.h>
#include <string.h>
#include <unistd.h>
#include <wchar.h>

#include "keys.h"
#include "screen.h"

#define LOOK_MS 20 /* between two looks at keys and reports */
#define DRAW_EVERY 2
#define PROMPT_BYTES 1000

typedef struct terminal {
    hy_live_session *session;
    hy_device *device;
    hy_view view;
    hy_cells cells;
    attr_t attributes[HY_STYLES];
    char prompt[PROMPT_BYTES + 8];
    int prompting;
} terminal;

static void choose_styles(terminal *t)
{
    static const attr_t plain[HY_STYLES] = {A_NORMAL, A_DIM, A_BOLD, A_BOLD, A_NORMAL, A_BOLD, A_REVERSE, A_REVERSE};
    static const short colours[HY_STYLES] = {-1, -1, -1, COLOR_CYAN, COLOR_GREEN, COLOR_YELLOW, COLOR_RED, -1};
    memcpy(t->attributes, plain, sizeof plain);
    if (has_colors() && start_color() == OK) {
        const short back = use_default_colors() == OK ? -1 : COLOR_BLACK;
        for (int i = 0; i < HY_STYLES; i++) {
            if (colours[i] >= 0) {
                init_pair((short)(i + 1), colours[i], back);
                t->attributes[i] = (attr_t)COLOR_PAIR(i + 1) | (i == HY_ALARM ? A_BOLD : A_NORMAL);
            }
        }
    }
}

static void begin(terminal *t)
{
    raw();
    noecho();
    nonl();
    keypad(stdscr, TRUE);
    set_escdelay(25);
    timeout(LOOK_MS);
    choose_styles(t);
}

static void paint(terminal *t)
{
    int rows, columns, cursor;
    getmaxyx(stdscr, rows, columns);
    hy_cells_clear(&t->cells, rows, columns);
    hy_screen_draw(&t->cells, &t->view, &cursor);
    for (int r = 0; r < t->cells.rows; r++) {
        for (int k = 0; k < t->cells.columns; k++) {
            const hy_cell *cell = &t->cells.cell[r][k];
            const uint32_t point = t->view.ascii ? (uint32_t)(unsigned char)hy_cells_ascii(cell->point) : cell->point;
            const wchar_t text[2] = {(wchar_t)point, L'\0'};
            cchar_t wide;
            setcchar(&wide, text, t->attributes[cell->style] & ~(attr_t)A_COLOR,
                     (short)PAIR_NUMBER(t->attributes[cell->style]), NULL);
            mvadd_wch(r, k, &wide); /* fails in the last cell of all, having written it */
        }
    }
    curs_set(cursor >= 0);
    if (cursor >= 0) {
        move(t->cells.rows - 1, cursor < t->cells.columns ? cursor : t->cells.columns - 1);
    }
    refresh();
}

/* ---- keys ---- */

static int plain_key(int status, wint_t key)
{
    if (status == OK) {
        return key == '\r' ? HY_KEY_ENTER : key == 127 || key == 8 ? HY_KEY_BACKSPACE : (int)key;
    }
    switch (key) {
    case KEY_LEFT:
        return HY_KEY_LEFT;
    case KEY_RIGHT:
        return HY_KEY_RIGHT;
    case KEY_UP:
        return HY_KEY_UP;
    case KEY_DOWN:
        return HY_KEY_DOWN;
    case KEY_BACKSPACE:
        return HY_KEY_BACKSPACE;
    case KEY_ENTER:
        return HY_KEY_ENTER;
    default:
        return HY_KEY_OTHER;
    }
}

static void append_one(terminal *t, int key)
{
    const size_t n = strlen(t->prompt);
    char bytes[MB_LEN_MAX + 1] = "";
    mbstate_t state;
    memset(&state, 0, sizeof state);
    const size_t used = wcrtomb(bytes, (wchar_t)key, &state);
    if (used != (size_t)-1 && n + used < PROMPT_BYTES) {
        memcpy(t->prompt + n, bytes, used);
        t->prompt[n + used] = '\0';
    }
}

static void erase_one(terminal *t)
{
    size_t n = strlen(t->prompt);
    while (n > 0 && ((unsigned char)t->prompt[n - 1] & 0xc0U) == 0x80U) {
        n--;
    }
    t->prompt[n > 0 ? n - 1 : 0] = '\0';
}

static void do_line(terminal *t, const char *line)
{
    hy_diag ignored = {""}; /* it stands in the note */
    hy_live_session_line(t->session, line, &ignored);
}

static void prompt_key(terminal *t, int key)
{
    if (key == HY_KEY_ENTER) {
        t->prompting = 0;
        do_line(t, t->prompt);
    } else if (key == HY_KEY_ESCAPE || key == 3) {
        t->prompting = 0;
    } else if (key == HY_KEY_BACKSPACE) {
        erase_one(t);
    } else if (key >= ' ' && key < HY_KEY_LEFT) {
        append_one(t, key);
    }
}

/* On the phoneme page, letters and digits are phonemes first. 1: the key was one. */
static int phoneme_key(terminal *t, int key)
{
    if (key >= 'a' && key < 'a' + HY_GROUPS) {
        t->view.group = key - 'a';
        return 1;
    }
    if (t->view.group >= 0 && key >= '1' && key <= '9') {
        const int code = hy_groups[t->view.group].codes[key - '1'];
        if (code >= 0) {
            char line[32];
            snprintf(line, sizeof line, "strobe 0x%02x", (unsigned)code);
            do_line(t, line);
        }
        t->view.group = -1;
        return 1;
    }
    return 0;
}

static void one_key(terminal *t, int key)
{
    if (t->prompting) {
        prompt_key(t, key);
        return;
    }
    if (key == HY_KEY_ESCAPE) {
        t->session->help = 0;
        t->view.group = -1;
        return;
    }
    if (t->view.phonemes && phoneme_key(t, key)) {
        return;
    }
    const hy_key *known = hy_key_find(key);
    if (known == NULL) {
        return;
    }
    t->view.group = -1;
    if (known->command == NULL) {
        int *page = key == HY_KEY_TAB ? &t->view.phonemes : &t->view.wave;
        *page = !*page;
        return;
    }
    const size_t n = strlen(known->command);
    if (n == 0 || known->command[n - 1] == ' ') {
        snprintf(t->prompt, sizeof t->prompt, "%s", known->command);
        t->prompting = 1;
    } else {
        do_line(t, known->command);
    }
}

/* A terminal that was closed has nothing to read for ever, and without a wait. */
static int is_gone(void)
{
    struct pollfd in = {.fd = STDIN_FILENO, .events = POLLIN};
    return poll(&in, 1, 0) > 0 && (in.revents & (POLLHUP | POLLERR | POLLNVAL)) != 0;
}

static void read_keys(terminal *t)
{
    wint_t key;
    int status;
    timeout(LOOK_MS); /* for the first */
    while ((status = get_wch(&key)) != ERR) {
        one_key(t, plain_key(status, key));
        timeout(0);
    }
    t->session->quit = t->session->quit || is_gone();
}

/* ---- the loop ---- */

static int look(terminal *t, hy_diag *diag)
{
    hy_diag why = {""};
    if (hy_live_session_tick(t->session, &why) != 0) {
        hy_live_session_note(t->session, 1, "%s", why.text);
    }
    t->view.xruns = hy_device_xruns(t->device);
    t->view.worst_load = hy_device_worst_load(t->device);
    t->view.latency_ms = hy_device_latency_ms(t->device);
    t->view.prompt = t->prompting ? t->prompt : NULL;
    return hy_device_check(t->device, diag);
}

static int unicode_terminal(void)
{
    const char *locale = setlocale(LC_CTYPE, "");
    return locale != NULL && strcmp(nl_langinfo(CODESET), "UTF-8") == 0;
}

int hy_terminal_run(hy_live_session *session, hy_device *device, const volatile sig_atomic_t *stop, hy_diag *diag)
{
    terminal *t = calloc(1, sizeof *t);
    if (t == NULL) {
        return hy_fail(diag, "not enough memory");
    }
    t->session = session;
    t->device = device;
    t->view = (hy_view){.session = session, .device = hy_device_name(device), .group = -1};
    t->view.ascii = !unicode_terminal();
    SCREEN *screen = newterm(NULL, stdout, stdin);
    if (screen == NULL) {
        free(t);
        const char *term = getenv("TERM");
        return hy_fail(diag, "the terminal %s is not known here; another TERM, or --plain, would be right",
                       term != NULL ? term : "(no TERM)");
    }
    set_term(screen);
    begin(t);
    int result = 0;
    for (unsigned round = 0; !session->quit && !*stop && result == 0; round++) {
        read_keys(t);
        result = look(t, diag);
        if (round % DRAW_EVERY == 0) {
            paint(t);
        }
    }
    endwin();
    delscreen(screen);
    free(t);
    return result;
}
