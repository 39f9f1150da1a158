# A report in a real browser: nothing is cut off at desktop and phone width, it prints on A4, it loads and runs nothing.
add_executable(sample_report ${CMAKE_CURRENT_LIST_DIR}/sample_report.c)
target_link_libraries(sample_report PRIVATE hyoid_options hyoid_frontends ${MATH_LIBRARY})
set(check_report ${CMAKE_CURRENT_LIST_DIR}/check_report.py)
hyoid_test(report_browser ${with_tools} chromium python3 -- python3 -B ${check_report} --sample $<TARGET_FILE:sample_report>)
set_tests_properties(report_browser PROPERTIES LABELS outside)
