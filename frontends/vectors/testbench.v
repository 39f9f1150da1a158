// The test bench of `hyoid vectors`: plays stimulus.hex to a design and holds it against expected.hex, clock by clock.
//
//   iverilog -g2005 -I DIR -o tb DIR/testbench.v DESIGN.v && vvp -n tb +vectors=DIR
//
// Without DESIGN.v's name in the command the bench looks for a module hyoid_dut with the ports below; -DHYOID_DUT=NAME gives
// another name, -DHYOID_AUDIO connects the port audio and compares it, +tolerance=N by how many steps it may differ.
// Says PASS, or the first mismatch and ends with status 1 (Icarus Verilog).
`timescale 1 ns / 1 ps
`include "vectors.vh"
`ifndef HYOID_DUT
`define HYOID_DUT hyoid_dut
`endif
`ifdef __ICARUS__
`define HYOID_FAIL $finish_and_return(1)
`else
`define HYOID_FAIL $stop
`endif

module hyoid_testbench;
  // Row n of stimulus, expected and mask belongs to clock n; row 0 is the state after power-up.
  reg [15:0] stimulus[0:`HYOID_CLOCKS];  // edge, code at the edge, then strobe, inflection and code at the clock
  reg [3:0] expected[0:`HYOID_CLOCKS];   // bit 0: request
  reg [3:0] mask[0:`HYOID_CLOCKS];       // bit 0: compare request, bit 1: compare audio
  reg [`HYOID_AUDIO_BITS-1:0] levels[0:`HYOID_LEVELS];  // the audio pin's levels, in their order; level 0 is 0

  reg clk, reset, strobe;
  reg [5:0] p;
  reg [1:0] inflection;
  wire request;
  wire signed [`HYOID_AUDIO_BITS-1:0] audio;

  `HYOID_DUT dut (
      .clk(clk),
      .reset(reset),
      .p(p),
      .inflection(inflection),
      .strobe(strobe),
`ifdef HYOID_AUDIO
      .audio(audio),
`endif
      .request(request)
  );

  reg [8*512:1] folder, name;
  integer n, tolerance, level, apart;
  real part;

  // sets `name`; %0s leaves out what the register holds ahead of the text
  task file(input [8*16:1] what);
    $sformat(name, "%0s/%0s", folder, what);
  endtask

  task fail(input [8*8:1] pin, input [63:0] is_signed);
    begin
      if (is_signed != 0)
        $display("MISMATCH in clock %0d: %0s: expected %0d, got %0d", n, pin, $signed(levels[level]), audio);
      else $display("MISMATCH in clock %0d: %0s: expected %b, got %b", n, pin, expected[n][0], request);
      $display("stimulus of this clock: code %h, inflection %0d, strobe %b%0s; of the %0d clocks %0d were right", p,
               inflection, strobe, stimulus[n][15] ? ", which rose ahead of it" : "", `HYOID_CLOCKS, n);
      `HYOID_FAIL;
    end
  endtask

  task compare;
    begin
      if (mask[n][0] && request !== expected[n][0]) fail("request", 0);
`ifdef HYOID_AUDIO
      level = n < `HYOID_FIRST_LEVEL ? 0 : (n - `HYOID_FIRST_LEVEL) / `HYOID_FILTER_CLOCKS + 1;
      apart = audio - $signed(levels[level]);
      if (mask[n][1] && !(apart <= tolerance && -apart <= tolerance)) fail("audio", 1);
`endif
    end
  endtask

  initial begin
    if (!$value$plusargs("vectors=%s", folder)) folder = ".";
    if (!$value$plusargs("tolerance=%d", tolerance)) tolerance = 0;
    file("stimulus.hex");
    $readmemh(name, stimulus);
    file("expected.hex");
    $readmemh(name, expected);
    file("mask.hex");
    $readmemh(name, mask);
    file("levels.hex");
    $readmemh(name, levels);
    if (^{stimulus[`HYOID_CLOCKS], expected[`HYOID_CLOCKS], mask[`HYOID_CLOCKS]} === 1'bx) begin
      $display("the vectors are not in %0s: +vectors=DIR says where", folder);
      `HYOID_FAIL;
    end
    part = `HYOID_PERIOD / 8.0;
    clk = 0;
    {strobe, inflection, p} = 0;
    reset = 1;
    repeat (2) begin
      #(4 * part) clk = 1;
      #(4 * part) clk = 0;
    end
    #(2 * part) reset = 0;
    #(2 * part);
    n = 0;
    compare;
    for (n = 1; n <= `HYOID_CLOCKS; n = n + 1) begin
      // between the clocks: the edge of strobe with its code, then what stands at the clock
      if (stimulus[n][15]) begin
        strobe = 0;
        p = stimulus[n][14:9];
        #part strobe = 1;
      end else #part;
      #part {strobe, inflection, p} = stimulus[n][8:0];
      #(2 * part) clk = 1;
      #(2 * part) clk = 0;
      #part compare;
      #part;
    end
    $display("PASS: %0d clocks as expected", `HYOID_CLOCKS);
    $finish;
  end
endmodule
