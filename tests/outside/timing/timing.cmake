# hyoid timing and the captures of logic analysers, from outside. `timing` itself is the test of rendered files.
hyoid_test(timing_verb ${HYOID_PYTHON} -B ${CMAKE_CURRENT_LIST_DIR}/timing_verb.py)
hyoid_test(timing_verb_tools ${with_tools} sigrok-cli vcd2fst fst2vcd -- ${HYOID_PYTHON} -B
           ${CMAKE_CURRENT_LIST_DIR}/timing_verb.py --tools)
hyoid_test(timing_verb_large ${HYOID_PYTHON} -B ${CMAKE_CURRENT_LIST_DIR}/timing_verb.py --large)
set_tests_properties(timing_verb timing_verb_tools timing_verb_large PROPERTIES LABELS outside)
