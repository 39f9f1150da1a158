/* What simulators call: plain functions over small handles, the same for DPI-C (as they stand) and VPI (vpi.c).
 *
 * The names and types are those that verilog/hyoid_lockstep.sv imports: int is SystemVerilog's int, long long its longint,
 * const char * its string. */
#ifndef HY_HDL_BRIDGE_H
#define HY_HDL_BRIDGE_H

#ifdef __cplusplus
extern "C" {
#endif

/* A pair. part: a part folder, or "" for the built-in part (an estimate); checks: bits 0 request, 1 phoneme, 2 slot,
 * 3 level, 4 audio; audio codes of `bits` bits, `fraction` of them behind the point, may differ by `tolerance`; window:
 * rows shown on either side of a difference; vcd: where to write it, or "" for nowhere. Returns a handle from
 * 0 on, or -1 after a line that says what was wrong. */
int hyoid_lockstep_open(const char *part, int checks, int bits, int fraction, int tolerance, int window,
                        const char *vcd);

/* Strobe rose, with this code on the pins. Returns 0. */
int hyoid_lockstep_strobe(int handle, int code);

/* A rising edge of the clock, with a word as frontends/hdl/word.h draws it. 0: go on; 1: a difference was found and reported;
 * 2: the stimulus is over and nothing differed. */
int hyoid_lockstep_clock(int handle, long long word);

/* The simulation ends: what was found is reported if it has not been. 1 if something differed. */
int hyoid_lockstep_close(int handle);

/* The same for all pairs that are open. */
int hyoid_lockstep_close_all(void);

/* Pairs that differed so far, in this simulation: the exit status of a bench. */
int hyoid_lockstep_failures(void);

/* Random stimulus for a pair, for so many clocks. 0, or -1 after a line that says why. */
int hyoid_stimulus_start(int handle, long long seed, long long clocks);

/* Steps that still have to be taken ahead of the next clock, and the next one: bits 5..0 p, 7..6 inflection, 8 strobe,
 * 31..16 the clock's period in ns. */
int hyoid_stimulus_pending(int handle);
int hyoid_stimulus_take(int handle);

/* Where text goes; standard output until then. For VPI, whose simulator has a log of its own. */
void hyoid_lockstep_print_with(void (*print)(const char *text));

#ifdef __cplusplus
}
#endif

#endif
