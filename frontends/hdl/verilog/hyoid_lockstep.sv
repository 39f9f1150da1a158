// The model beside a design under test: put one next to your chip, on the same wires, and every clock is compared.
//
// Compared are the pins that a design has: request always; what it shows of its inside (phoneme, slot, level) and its
// audio code if the CHECK_ parameters say so. Unused inputs may be left open. The first difference is printed with what
// came before and after it, written to VCD, and ends the simulation.
//
// Clock 1 is the first rising edge of clk at which reset is low. Outputs are looked at just before the next edge, so a
// design has a whole clock to settle. Strobe may rise anywhere between two edges, several times; change p before
// strobe, not in the same instant.
//
// Icarus Verilog finds the model in hyoid.vpi (vvp -m hyoid), every other simulator through DPI-C in libhyoid_dpi.so.

`ifndef HYOID_LOCKSTEP_SV
`define HYOID_LOCKSTEP_SV

// a bench, not hardware: quiet in a design that is linted with -Wall
/* verilator lint_save */
/* verilator lint_off DECLFILENAME */
/* verilator lint_off UNUSEDSIGNAL */
/* verilator lint_off BLKSEQ */
/* verilator lint_off SYNCASYNCNET */

`ifdef __ICARUS__
`define HYOID_OPEN $hyoid_lockstep_open
`define HYOID_STROBE $hyoid_lockstep_strobe
`define HYOID_CLOCK $hyoid_lockstep_clock
`define HYOID_CLOSE $hyoid_lockstep_close
`else
package hyoid_pkg;
  import "DPI-C" function int hyoid_lockstep_open(input string part, input int checks, input int bits,
                                                  input int fraction, input int tolerance, input int window,
                                                  input string vcd);
  import "DPI-C" function int hyoid_lockstep_strobe(input int handle, input int code);
  import "DPI-C" function int hyoid_lockstep_clock(input int handle, input longint word);
  import "DPI-C" function int hyoid_lockstep_close(input int handle);
  import "DPI-C" function int hyoid_lockstep_failures();
  import "DPI-C" function int hyoid_stimulus_start(input int handle, input longint seed, input longint clocks);
  import "DPI-C" function int hyoid_stimulus_pending(input int handle);
  import "DPI-C" function int hyoid_stimulus_take(input int handle);
endpackage
`define HYOID_OPEN hyoid_pkg::hyoid_lockstep_open
`define HYOID_STROBE hyoid_pkg::hyoid_lockstep_strobe
`define HYOID_CLOCK hyoid_pkg::hyoid_lockstep_clock
`define HYOID_CLOSE hyoid_pkg::hyoid_lockstep_close
`endif

module hyoid_lockstep #(
    parameter CHECK_PHONEME = 0,    // the code that is latched
    parameter CHECK_SLOT = 0,       // sixteenths of the phoneme, 0..16
    parameter CHECK_LEVEL = 0,      // the inflection in force
    parameter CHECK_AUDIO = 0,      // the audio code
    parameter AUDIO_BITS = 24,      // of two's complement
    parameter AUDIO_FRACTION = 20,  // of them behind the point: 1.0 is 2^AUDIO_FRACTION
    parameter TOLERANCE = 0,        // steps by which an audio code may differ
    parameter WINDOW = 8,           // rows shown on either side of a difference
    parameter PART = "",            // a part folder; "" is the built-in part, an estimate
    parameter VCD = "hyoid_lockstep.vcd"  // "" for none
) (
    input logic clk,
    input logic reset,
    input logic [5:0] p,
    input logic [1:0] inflection,
    input logic strobe,
    input logic request,
    input logic [5:0] phoneme,
    input logic [4:0] slot,
    input logic [1:0] level,
    input logic signed [AUDIO_BITS-1:0] audio,
    output logic [1:0] result  // 0: go on; 1: they differed; 2: the random stimulus is over (hyoid_bench)
);
  localparam CHECKS = 1 + 2 * (CHECK_PHONEME != 0) + 4 * (CHECK_SLOT != 0) + 8 * (CHECK_LEVEL != 0) +
                      16 * (CHECK_AUDIO != 0);
  int handle, ignored;
  wire [5:0] unknown;
  wire signed [31:0] wide = 32'(audio);
  wire [63:0] word = {wide, 3'b0, unknown, level, slot, phoneme, request, strobe, inflection, p};

  assign unknown[0] = request !== 1'b0 && request !== 1'b1;
  assign unknown[1] = ^phoneme === 1'bx;
  assign unknown[2] = ^slot === 1'bx;
  assign unknown[3] = ^level === 1'bx;
  assign unknown[4] = ^audio === 1'bx;
  assign unknown[5] = ^{p, inflection, strobe} === 1'bx;

  initial begin
    result = 0;
    handle = `HYOID_OPEN(PART, CHECKS, AUDIO_BITS, AUDIO_FRACTION, TOLERANCE, WINDOW, VCD);
    if (handle < 0) result = 1;
  end

  always @(posedge strobe) if (!reset) ignored = `HYOID_STROBE(handle, {26'b0, p});

  always @(posedge clk) if (!reset) result <= 2'(`HYOID_CLOCK(handle, word));

  // the edge's outcome is out after all that it moved
  always @(result)
    if (result != 0) begin
`ifdef __ICARUS__
      $finish_and_return(result == 1);
`else
      $finish(0);
`endif
    end

`ifndef __ICARUS__
  final if (handle >= 0) ignored = `HYOID_CLOSE(handle);
`endif
endmodule
/* verilator lint_restore */
`endif
