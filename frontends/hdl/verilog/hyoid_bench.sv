// A bench for random stimulus: wraps the module `dut`, which you provide, and the model beside it. hyoid_tb.v drives it in
// Icarus Verilog, hyoid_main.cpp in Verilator.
//
// Each toggle of `step` takes one step of the stimulus: several may come between two clocks. `period` is how long the
// coming clock lasts, in ns.
`include "hyoid_lockstep.sv"
/* verilator lint_save */
/* verilator lint_off UNUSEDSIGNAL */
/* verilator lint_off BLKSEQ */
/* verilator lint_off SYNCASYNCNET */
/* verilator lint_off PINCONNECTEMPTY */

`ifdef __ICARUS__
`define HYOID_START $hyoid_stimulus_start
`define HYOID_PENDING $hyoid_stimulus_pending
`define HYOID_TAKE $hyoid_stimulus_take
`else
`define HYOID_START hyoid_pkg::hyoid_stimulus_start
`define HYOID_PENDING hyoid_pkg::hyoid_stimulus_pending
`define HYOID_TAKE hyoid_pkg::hyoid_stimulus_take
`endif

module hyoid_bench #(
    parameter CHECK_PHONEME = 0,
    parameter CHECK_SLOT = 0,
    parameter CHECK_LEVEL = 0,
    parameter CHECK_AUDIO = 0,
    parameter AUDIO_BITS = 24,
    parameter AUDIO_FRACTION = 20,
    parameter TOLERANCE = 0,
    parameter WINDOW = 8,
    parameter PART = "",
    parameter VCD = "hyoid_lockstep.vcd"
) (
    input logic clk,
    input logic step,
    output logic [15:0] period
);
  logic reset;
  logic [5:0] p;
  logic [1:0] inflection;
  logic strobe;
  wire request;
  wire [5:0] phoneme;
  wire [4:0] slot;
  wire [1:0] level;
  wire signed [AUDIO_BITS-1:0] audio;
  logic [63:0] seed, clocks;
  logic [31:0] pins;

  dut dut (.*);

  hyoid_lockstep #(
      .CHECK_PHONEME(CHECK_PHONEME),
      .CHECK_SLOT(CHECK_SLOT),
      .CHECK_LEVEL(CHECK_LEVEL),
      .CHECK_AUDIO(CHECK_AUDIO),
      .AUDIO_BITS(AUDIO_BITS),
      .AUDIO_FRACTION(AUDIO_FRACTION),
      .TOLERANCE(TOLERANCE),
      .WINDOW(WINDOW),
      .PART(PART),
      .VCD(VCD)
  ) lockstep (
      .result(),
      .*
  );

  initial begin
    reset = 1;
    {strobe, inflection, p} = 0;
    period = 1000;
    if (!$value$plusargs("seed=%d", seed)) seed = 1;
    if (!$value$plusargs("clocks=%d", clocks)) clocks = 1000000;
  end

  // power-on reset for two clocks; then the stimulus starts with the model
  logic started = 0;
  always @(posedge clk)
    if (reset) begin
      started <= 1;
      if (started) begin
        reset <= 0;
        if (`HYOID_START(lockstep.handle, seed, clocks) != 0) $finish;
      end
    end

  always @(posedge step or negedge step)
    if (!reset) begin
      pins = `HYOID_TAKE(lockstep.handle);
      {period, strobe, inflection, p} = {pins[31:16], pins[8:0]};
    end
endmodule
/* verilator lint_restore */
