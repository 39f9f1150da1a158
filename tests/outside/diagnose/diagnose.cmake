# Every fault at strengths that the program has not seen, in three kinds of recordings: a thinned bench set here, the whole one on
# request (tests/outside/diagnose/bench.sh); and the program as a user runs it.
set(diagnose_dir ${CMAKE_CURRENT_LIST_DIR})
add_executable(diagnose_bench ${diagnose_dir}/bench.c ${diagnose_dir}/spoil.c)
target_link_libraries(diagnose_bench PRIVATE hyoid_options hyoid_frontends ${MATH_LIBRARY})
hyoid_test(diagnose_bench sh ${diagnose_dir}/bench.sh $<TARGET_FILE:diagnose_bench> --every 8 --healthy 3 --floors)
hyoid_test(diagnose ${with_tools} python3 chromium -- python3 -B ${diagnose_dir}/diagnose.py $<TARGET_FILE:diagnose_bench>)
set_tests_properties(diagnose_bench diagnose PROPERTIES LABELS outside TIMEOUT 900)
