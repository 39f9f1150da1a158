# Calibration from outside: a random part is found again from its degraded recording. Included from tests/CMakeLists.txt.
find_program(HYOID_PYTHON python3 REQUIRED)
hyoid_test(calibrate ${HYOID_PYTHON} -B ${CMAKE_CURRENT_LIST_DIR}/calibrate.py quick)
set_tests_properties(calibrate PROPERTIES LABELS outside ENVIRONMENT
                     "${test_environment};HYOID_DEGRADE=$<TARGET_FILE:compare_degrade>")
hyoid_test(calibrate_pins ${HYOID_PYTHON} -B ${CMAKE_CURRENT_LIST_DIR}/pins.py)
set_tests_properties(calibrate_pins PROPERTIES LABELS outside)
hyoid_test(calibrate_partial ${HYOID_PYTHON} -B ${CMAKE_CURRENT_LIST_DIR}/partial.py)
set_tests_properties(calibrate_partial PROPERTIES LABELS outside)
