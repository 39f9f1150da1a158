# Every fault at strengths that the program has not seen, in three kinds of recordings: a thinned bench set here, the whole one on
# request (tests/outside/diagnose/bench.sh); and the program as a user runs it.
set(diagnose_dir ${CMAKE_CURRENT_LIST_DIR})
add_executable(diagnose_bench ${diagnose_dir}/bench.c ${diagnose_dir}/spoil.c)
target_link_libraries(diagnose_bench PRIVATE hyoid_options hyoid_frontends ${MATH_LIBRARY})
# at the stated clock, where renderings serve again; then at clocks up to 1.5 times off
hyoid_test(diagnose_bench sh ${diagnose_dir}/bench.sh $<TARGET_FILE:diagnose_bench> --every 8 --healthy 3 --reach 0 --floors)
hyoid_test(diagnose_clocks sh ${diagnose_dir}/bench.sh $<TARGET_FILE:diagnose_bench> --every 30 --healthy 1 --reach 0.5 --floors)
hyoid_test(diagnose ${with_tools} python3 chromium -- python3 -B ${diagnose_dir}/diagnose.py $<TARGET_FILE:diagnose_bench>
           $<TARGET_FILE:compare_degrade>)
set_tests_properties(diagnose_bench diagnose_clocks diagnose PROPERTIES LABELS outside TIMEOUT 900)
