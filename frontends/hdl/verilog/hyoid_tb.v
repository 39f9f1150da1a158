// Clock and steps for hyoid_bench in Icarus Verilog. The clock's period follows the stimulus.
`timescale 1 ns / 1 ps
module hyoid_tb;
  parameter CHECK_PHONEME = 0;
  parameter CHECK_SLOT = 0;
  parameter CHECK_LEVEL = 0;
  parameter CHECK_AUDIO = 0;
  parameter AUDIO_BITS = 24;
  parameter AUDIO_FRACTION = 20;
  parameter TOLERANCE = 0;
  parameter WINDOW = 8;
  parameter PART = "";
  parameter VCD = "hyoid_lockstep.vcd";
  reg clk, step;
  wire [15:0] period;
  integer steps;

  hyoid_bench #(
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
  ) bench (
      .clk(clk),
      .step(step),
      .period(period)
  );

  initial begin
    clk = 0;
    step = 0;
    forever begin
      #(period / 2.0) clk = 1;
      #(period / 4.0) clk = 0;
      steps = $hyoid_stimulus_pending(bench.lockstep.handle);
      // at most 16 of them, in the last quarter but one
      while (steps > 0) begin
        #(period / 80.0) step = !step;
        steps = steps - 1;
      end
    end
  end
endmodule
