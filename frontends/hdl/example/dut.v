// What hyoid_bench looks at. Wrap your own chip like this; leave out what it does not show.
module dut (
    input wire clk,
    input wire reset,
    input wire [5:0] p,
    input wire [1:0] inflection,
    input wire strobe,
    output wire request,
    output wire [5:0] phoneme,
    output wire [4:0] slot,
    output wire [1:0] level,
    output wire [23:0] audio
);
  assign audio = 0;
  sequencer sequencer (
      .clk(clk),
      .reset(reset),
      .p(p),
      .inflection(inflection),
      .strobe(strobe),
      .request(request),
      .phoneme(phoneme),
      .slot(slot),
      .level(level)
  );
endmodule
