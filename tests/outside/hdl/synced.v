// A design that takes its inputs through two flip-flops, with the model behind them, as docs/replacement.md advises.
module synced (
    input wire clk,
    input wire reset,
    input wire [5:0] p,
    input wire [1:0] inflection,
    input wire strobe,
    output wire request
);
  reg [8:0] first, second;
  wire [5:0] phoneme;
  wire [4:0] slot;
  wire [1:0] level;
  always @(posedge clk) begin
    first  <= {strobe, inflection, p};
    second <= first;
  end
  sequencer sequencer (
      .clk(clk),
      .reset(reset),
      .p(second[5:0]),
      .inflection(second[7:6]),
      .strobe(second[8]),
      .request(request),
      .phoneme(phoneme),
      .slot(slot),
      .level(level)
  );
  hyoid_lockstep #(
      .CHECK_PHONEME(1),
      .CHECK_SLOT(1),
      .CHECK_LEVEL(1)
  ) behind (
      .clk(clk),
      .reset(reset),
      .p(second[5:0]),
      .inflection(second[7:6]),
      .strobe(second[8]),
      .request(request),
      .phoneme(phoneme),
      .slot(slot),
      .level(level),
      .audio(24'b0),
      .result()
  );
endmodule
