# The bench set: every fault at strengths that the program has not seen, in three kinds of recordings.
add_executable(diagnose_bench ${CMAKE_CURRENT_LIST_DIR}/bench.c ${CMAKE_CURRENT_LIST_DIR}/spoil.c)
target_link_libraries(diagnose_bench PRIVATE hyoid_options hyoid_frontends ${MATH_LIBRARY})
