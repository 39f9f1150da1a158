/* The bridge as system functions for Icarus Verilog (IEEE 1364-2005, clause 27): $hyoid_lockstep_open and so on. A call's
 * arguments are those of the function of the same name in bridge.h, in their order. */
#include <stdint.h>
#include <stdlib.h>
#include <string.h>

#include <vpi_user.h>

#include "bridge.h"

enum { ARGUMENTS = 7 };

/* One argument, as text or as a whole number of up to 64 bits; x and z bits read as 1, as the packing expects. */
typedef struct argument {
    long long number;
    char *text;
} argument;

typedef struct call {
    const char *name;
    const char *arguments; /* t text, n number */
    int (*run)(const argument *a);
} call;

static int do_open(const argument *a)
{
    return hyoid_lockstep_open(a[0].text, (int)a[1].number, (int)a[2].number, (int)a[3].number, (int)a[4].number,
                               (int)a[5].number, a[6].text);
}

static int do_strobe(const argument *a)
{
    return hyoid_lockstep_strobe((int)a[0].number, (int)a[1].number);
}

static int do_clock(const argument *a)
{
    return hyoid_lockstep_clock((int)a[0].number, a[1].number);
}

static int do_start(const argument *a)
{
    return hyoid_stimulus_start((int)a[0].number, a[1].number, a[2].number);
}

static int do_pending(const argument *a)
{
    return hyoid_stimulus_pending((int)a[0].number);
}

static int do_take(const argument *a)
{
    return hyoid_stimulus_take((int)a[0].number);
}

static call calls[] = {
    {"$hyoid_lockstep_open", "tnnnnnt", do_open}, {"$hyoid_lockstep_strobe", "nn", do_strobe},
    {"$hyoid_lockstep_clock", "nn", do_clock},    {"$hyoid_stimulus_start", "nnn", do_start},
    {"$hyoid_stimulus_pending", "n", do_pending}, {"$hyoid_stimulus_take", "n", do_take},
};
enum { CALLS = sizeof calls / sizeof calls[0] };

static void print(const char *text)
{
    vpi_printf("%s", text);
    vpi_flush();
}

static argument read_argument(vpiHandle handle, char kind)
{
    argument a = {0, NULL};
    if (kind == 't') {
        s_vpi_value value = {.format = vpiStringVal};
        vpi_get_value(handle, &value);
        a.text = strdup(value.value.str != NULL ? value.value.str : "");
        return a;
    }
    s_vpi_value value = {.format = vpiVectorVal};
    vpi_get_value(handle, &value);
    uint64_t number = (uint32_t)value.value.vector[0].aval;
    const int size = vpi_get(vpiSize, handle);
    if (size > 32) {
        number |= (uint64_t)(uint32_t)value.value.vector[1].aval << 32;
    } else if (size == 32) {
        number = (uint64_t)(int64_t)(int32_t)(uint32_t)number;
    }
    a.number = (long long)number;
    return a;
}

static PLI_INT32 run(PLI_BYTE8 *data)
{
    const call *what = (const call *)(const void *)data;
    vpiHandle self = vpi_handle(vpiSysTfCall, NULL);
    vpiHandle each = vpi_iterate(vpiArgument, self);
    argument arguments[ARGUMENTS] = {{0, NULL}};
    size_t count = 0;
    for (vpiHandle next; each != NULL && (next = vpi_scan(each)) != NULL;) {
        if (what->arguments[count] == '\0') {
            vpi_free_object(each);
            break;
        }
        arguments[count] = read_argument(next, what->arguments[count]);
        count++;
    }
    s_vpi_value result = {.format = vpiIntVal, .value = {.integer = what->run(arguments)}};
    vpi_put_value(self, &result, NULL, vpiNoDelay);
    for (size_t i = 0; i < count; i++) {
        free(arguments[i].text);
    }
    return 0;
}

/* Before the simulation starts: a wrong number of arguments is the caller's slip, and named. */
static PLI_INT32 check(PLI_BYTE8 *data)
{
    const call *what = (const call *)(const void *)data;
    vpiHandle each = vpi_iterate(vpiArgument, vpi_handle(vpiSysTfCall, NULL));
    size_t count = 0;
    while (each != NULL && vpi_scan(each) != NULL) {
        count++;
    }
    if (count != strlen(what->arguments)) {
        vpi_printf("%s takes %d arguments, not %d\n", what->name, (int)strlen(what->arguments), (int)count);
        vpi_control(vpiFinish, 1);
    }
    return 0;
}

static PLI_INT32 end(p_cb_data data)
{
    (void)data;
    hyoid_lockstep_close_all();
    return 0;
}

static void start(void)
{
    hyoid_lockstep_print_with(print);
    for (size_t i = 0; i < CALLS; i++) {
        s_vpi_systf_data function = {.type = vpiSysFunc,
                                     .sysfunctype = vpiIntFunc,
                                     .tfname = calls[i].name,
                                     .calltf = run,
                                     .compiletf = check,
                                     .user_data = (PLI_BYTE8 *)&calls[i]};
        vpi_register_systf(&function);
    }
    s_cb_data at_end = {.reason = cbEndOfSimulation, .cb_rtn = end};
    vpi_register_cb(&at_end);
}

/* The simulator looks for this table, which vpi_user.h declares, by its name. */
void (*vlog_startup_routines[])(void) = {start, NULL};
