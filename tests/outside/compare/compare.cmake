# Recordings that are degraded by known amounts, parts and chips with known faults: what hyoid compare finds. Included from
# tests/CMakeLists.txt.
find_program(HYOID_PYTHON python3 REQUIRED)
add_executable(compare_degrade outside/compare/degrade.c)
target_link_libraries(compare_degrade PRIVATE hyoid_options hyoid_frontends)
add_executable(compare_sick outside/compare/sick.c)
target_link_libraries(compare_sick PRIVATE hyoid_options hyoid_frontends)
foreach(part clean poor parts seeds bad)
  hyoid_test(compare_${part} ${HYOID_PYTHON} -B ${CMAKE_CURRENT_LIST_DIR}/compare.py ${part}
             $<TARGET_FILE:compare_degrade> $<TARGET_FILE:compare_sick>)
  set_tests_properties(compare_${part} PROPERTIES LABELS outside)
endforeach()
