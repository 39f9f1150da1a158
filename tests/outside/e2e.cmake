# The program from outside: what it does to files, and whether what comes out keeps time. Included from tests/CMakeLists.txt.
find_program(HYOID_PYTHON python3 REQUIRED)
set(e2e ${PROJECT_SOURCE_DIR}/tests)

hyoid_test(golden_regenerated ${HYOID_PYTHON} -B ${e2e}/golden/make_golden.py --check)
hyoid_test(timing ${HYOID_PYTHON} -B ${e2e}/outside/timing.py)
hyoid_test(cli ${HYOID_PYTHON} -B ${e2e}/outside/cli.py)
hyoid_test(cli_hour ${HYOID_PYTHON} -B ${e2e}/outside/cli.py --hour)
set_tests_properties(timing cli cli_hour PROPERTIES LABELS outside)
