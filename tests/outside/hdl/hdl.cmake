# Vectors and lockstep, in simulators that we did not write. Included from tests/CMakeLists.txt.
set(hdl_tests ${CMAKE_CURRENT_LIST_DIR})

hyoid_test(hdl_vectors ${with_tools} iverilog vvp vcd2fst python3 -- sh ${hdl_tests}/vectors.sh)
set(hdl_named hdl_vectors)
hyoid_test(hdl_verilator ${with_tools} verilator make c++ cmake -- sh ${hdl_tests}/verilator.sh)
list(APPEND hdl_named hdl_verilator)
if(TARGET hyoid_vpi)
  hyoid_test(hdl_icarus ${with_tools} iverilog vvp vcd2fst -- sh ${hdl_tests}/icarus.sh)
  hyoid_test(hdl_wrong ${with_tools} iverilog vvp python3 -- python3 -B ${hdl_tests}/wrong.py)
  list(APPEND hdl_named hdl_icarus hdl_wrong)
endif()
set_tests_properties(${hdl_named} PROPERTIES LABELS outside)

# The pair by itself, without a simulator.
add_executable(test_pair ${hdl_tests}/test_pair.c)
target_link_libraries(test_pair PRIVATE hyoid_options hyoid_hdl PkgConfig::CRITERION)
hyoid_test(test_pair test_pair)
