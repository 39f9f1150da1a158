// A design with sound, for tests: the example's handshake, and the levels that `hyoid vectors` wrote. `WRONG_LEVEL is the number
// of one that is off by `WRONG_BY steps.
`include "vectors.vh"
`ifndef WRONG_LEVEL
`define WRONG_LEVEL -1
`define WRONG_BY 0
`endif
module player (
    input wire clk,
    input wire reset,
    input wire [5:0] p,
    input wire [1:0] inflection,
    input wire strobe,
    output wire request,
    output reg signed [`HYOID_AUDIO_BITS-1:0] audio
);
  reg [`HYOID_AUDIO_BITS-1:0] levels[0:`HYOID_LEVELS];
  integer n;
  initial $readmemh("levels.hex", levels);
  sequencer sequencer (
      .clk(clk),
      .reset(reset),
      .p(p),
      .inflection(inflection),
      .strobe(strobe),
      .request(request),
      .phoneme(),
      .slot(),
      .level()
  );
  always @(posedge clk)
    if (reset) begin
      n <= 1;
      audio <= 0;
    end else begin
      n <= n + 1;
      if (n >= `HYOID_FIRST_LEVEL && (n - `HYOID_FIRST_LEVEL) % `HYOID_FILTER_CLOCKS == 0)
        audio <= levels[(n - `HYOID_FIRST_LEVEL) / `HYOID_FILTER_CLOCKS + 1] +
                 ((n - `HYOID_FIRST_LEVEL) / `HYOID_FILTER_CLOCKS + 1 == `WRONG_LEVEL ? `WRONG_BY : 0);
    end

`ifdef BESIDE
  // the model beside a design that someone else's bench drives
  hyoid_lockstep #(
      .CHECK_AUDIO(1),
      .AUDIO_BITS(`HYOID_AUDIO_BITS),
      .AUDIO_FRACTION(`HYOID_AUDIO_FRACTION),
      .TOLERANCE(`BESIDE)
  ) beside (
      .clk(clk),
      .reset(reset),
      .p(p),
      .inflection(inflection),
      .strobe(strobe),
      .request(request),
      .phoneme(6'b0),
      .slot(5'b0),
      .level(2'b0),
      .audio(audio),
      .result()
  );
`endif
endmodule
