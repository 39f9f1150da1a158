# The voice, judged by what nobody here wrote: a phonetics tool (praat) and a speech recogniser (pocketsphinx, en-us).
# Included from tests/CMakeLists.txt. Builds the tools of reference/tuning too.
# Debian: praat python3-numpy libpocketsphinx-dev libsphinxbase-dev pocketsphinx-en-us flite1-dev;
# as anchors: espeak-ng flite.
set(voice ${CMAKE_CURRENT_LIST_DIR})
set(tuning ${PROJECT_SOURCE_DIR}/reference/tuning)

hyoid_test(voice_phonetics /usr/bin/python3 -B ${voice}/phonetics.py)
hyoid_test(voice_lists_disjoint /usr/bin/python3 -B ${voice}/lists_disjoint.py)
add_executable(headroom ${tuning}/headroom.c)
target_link_libraries(headroom PRIVATE hyoid_options hyoid_frontends)
hyoid_test(voice_headroom headroom)
set(voice_tests voice_phonetics voice_lists_disjoint voice_headroom voice_words)

pkg_check_modules(POCKETSPHINX QUIET pocketsphinx) # no imported target: Debian's file names a folder that isn't there
if(POCKETSPHINX_FOUND AND FLITE_HAS_TEXT_FRONT_END)
  add_library(tuning STATIC ${tuning}/checks.c ${tuning}/ear.c ${tuning}/hearing.c ${tuning}/lexicon.c ${tuning}/measure.c ${tuning}/moves.c
              ${tuning}/partout.c ${tuning}/say.c ${tuning}/wordlist.c)
  target_include_directories(tuning PUBLIC ${tuning})
  foreach(folder ${POCKETSPHINX_INCLUDE_DIRS})
    if(EXISTS ${folder})
      target_include_directories(tuning SYSTEM PUBLIC ${folder})
    endif()
  endforeach()
  target_link_libraries(tuning PRIVATE hyoid_options PUBLIC hyoid_frontends ${POCKETSPHINX_LIBRARIES} ${MATH_LIBRARY})
  add_executable(recognise ${voice}/recognise.c)
  add_executable(make_lists ${voice}/make_lists.c)
  add_executable(tuning_search ${tuning}/search.c)
  foreach(program recognise make_lists tuning_search)
    target_link_libraries(${program} PRIVATE hyoid_options tuning)
  endforeach()
  hyoid_test(voice_words ${CMAKE_COMMAND} -E env RECOGNISE=$<TARGET_FILE:recognise> /usr/bin/python3 -B ${voice}/words.py --least 90 --least-digits 49)
else()
  hyoid_test(voice_words sh -c "echo 'SKIP: libpocketsphinx-dev or flite1-dev is not installed'; test -z \"$CI\" && exit 77; exit 1")
endif()
set_tests_properties(${voice_tests} PROPERTIES LABELS outside)
