# What a sweep prints against what is heard in its files. Included from tests/CMakeLists.txt.
pkg_check_modules(LISTEN_SNDFILE REQUIRED IMPORTED_TARGET sndfile)
add_executable(listen ${CMAKE_CURRENT_LIST_DIR}/listen.c)
target_link_libraries(listen PRIVATE hyoid_options PkgConfig::LISTEN_SNDFILE m)
hyoid_test(sweep ${HYOID_PYTHON} -B ${CMAKE_CURRENT_LIST_DIR}/sweep.py $<TARGET_FILE:listen>)
set_tests_properties(sweep PROPERTIES LABELS outside)
