# The speller against a dictionary that we did not write. Included from tests/CMakeLists.txt.
add_executable(spell_dictionary ${PROJECT_SOURCE_DIR}/tests/outside/spell_dictionary.c)
target_link_libraries(spell_dictionary PRIVATE hyoid_options hyoid_frontends)
hyoid_test(spell_dictionary spell_dictionary)
set_tests_properties(spell_dictionary PROPERTIES LABELS outside)
