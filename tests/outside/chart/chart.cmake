# The chart's measurements against a phonetics tool; parts compared; the listening page. Included from tests/CMakeLists.txt.
hyoid_test(chart ${with_tools} praat python3 -- ${HYOID_PYTHON} -B ${CMAKE_CURRENT_LIST_DIR}/chart.py)
set_tests_properties(chart PROPERTIES LABELS outside)
hyoid_test(parts ${HYOID_PYTHON} -B ${CMAKE_CURRENT_LIST_DIR}/parts.py)
set_tests_properties(parts PROPERTIES LABELS outside)
hyoid_test(listening sh ${CMAKE_CURRENT_LIST_DIR}/listening.sh)
set_tests_properties(listening PROPERTIES LABELS outside)
hyoid_test(chart_pages ${with_tools} mandoc col -- sh ${CMAKE_CURRENT_LIST_DIR}/pages.sh)
set_tests_properties(chart_pages PROPERTIES LABELS outside)
