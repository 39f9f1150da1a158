// Clock and steps for hyoid_bench in Verilator. Exit status: 0 if design and model did the same, 1 if not.
#include "Vhyoid_bench.h"
#include "verilated.h"

#include "bridge.h"

int main(int argc, char **argv)
{
    VerilatedContext context;
    context.commandArgs(argc, argv);
    Vhyoid_bench bench{&context};
    bench.clk = 0;
    bench.step = 0;
    bench.eval();
    while (!context.gotFinish()) {
        context.timeInc(bench.period);
        bench.clk = 1;
        bench.eval();
        bench.clk = 0;
        bench.eval();
        while (hyoid_stimulus_pending(0) > 0) {
            bench.step = !bench.step;
            bench.eval();
        }
    }
    bench.final();
    return hyoid_lockstep_failures() > 0;
}
