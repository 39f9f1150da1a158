// The digital front of a replacement: strobe and latch, phoneme timer with its sixteenths, request, and the inflection that
// the pitch counter would see. No audio. Written against docs/chip.md; every number of the silicon comes from part.vh
// and durations.hex, which `hyoid vectors --part-only` writes.
//
// A caught strobe acts at the very next clock, as the model's rules say. A real board's strobe is not tied to the clock:
// against metastability put two more flip-flops behind `caught` and expect every latch two clocks later.
`include "part.vh"

module sequencer (
    input wire clk,
    input wire reset,  // power-on
    input wire [5:0] p,
    input wire [1:0] inflection,
    input wire strobe,
    output reg request,
    output reg [5:0] phoneme,  // the code that is latched
    output reg [4:0] slot,     // sixteenths of its time, 0..16
    output reg [1:0] level     // the inflection in force
);
  reg [15:0] durations[0:63];  // filter cycles, by code
  initial $readmemh("durations.hex", durations);

  // Strobe is caught on its rising edge, with the code that stands there; of several between two clocks the last counts.
  reg caught, taken;
  reg [5:0] caught_code;
  always @(posedge strobe or posedge reset)
    if (reset) begin
      caught <= 0;
      caught_code <= 0;
    end else begin
      caught <= !taken;
      caught_code <= p;
    end
  wire latch = caught != taken;

  // A filter cycle starts every FILTER_CLOCKS clocks; nothing resets the divider.
  reg [12:0] divider;
  wire tick = divider == `HYOID_FILTER_CLOCKS - 1;
  always @(posedge clk or posedge reset)
    if (reset) divider <= 0;
    else divider <= tick ? 13'd0 : divider + 13'd1;

  // Timer: n counts filter cycles from 0; one that starts in the latch's own clock does not count.
  reg timing;
  reg [15:0] n;
  wire [15:0] duration = durations[phoneme];
  wire counts = tick && timing && !latch;
  wire over = counts && n + 16'd1 == duration;
  always @(posedge clk or posedge reset)
    if (reset) begin
      taken <= 0;
      phoneme <= `HYOID_POWER_UP_CODE;
      timing <= 0;
      n <= 0;
    end else if (latch) begin
      taken <= caught;
      phoneme <= caught_code;
      timing <= 1;
      n <= 0;
    end else if (counts) begin
      n <= n + 16'd1;
      timing <= !over;
    end

  // slot = 16 n div D without a divider: 16 is added for every filter cycle, D taken away for every slot. A part whose
  // shortest phoneme is below 16 filter cycles would need more than one slot in a filter cycle.
  reg  [16:0] rest;
  wire [16:0] sum = rest + 17'd16;
  wire        next_slot = sum >= {1'b0, duration};
  always @(posedge clk or posedge reset)
    if (reset) begin
      slot <= 16;
      rest <= 0;
    end else if (latch) begin
      slot <= 0;
      rest <= 0;
    end else if (counts) begin
      slot <= next_slot ? slot + 5'd1 : slot;
      rest <= next_slot ? sum - {1'b0, duration} : sum;
    end

  // Request falls REQUEST_DELAY clocks after the latch; a fall that is under way is not put off by a second strobe.
  reg [15:0] fall;
  always @(posedge clk or posedge reset)
    if (reset) begin
      request <= 1;
      fall <= 0;
    end else if (over) begin
      request <= 1;
      fall <= 0;
    end else if (fall != 0) begin
      fall <= fall - 16'd1;
      if (fall == 1) request <= 0;
    end else if (latch && request) begin
      if (`HYOID_REQUEST_DELAY == 0) request <= 0;
      else fall <= `HYOID_REQUEST_DELAY;
    end

  // Inflection is not latched: every filter cycle looks at the pins.
  always @(posedge clk or posedge reset)
    if (reset) level <= 0;
    else if (tick) level <= inflection;
endmodule
