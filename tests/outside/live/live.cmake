# hyoid live, from outside: its callback, its screen, and its sound on a sound server. Included from tests/CMakeLists.txt.
set(live ${CMAKE_CURRENT_LIST_DIR})

if(NOT HYOID_SANITIZE) # which has doors of its own
  add_executable(live_callback ${live}/callback.c)
  target_link_libraries(live_callback PRIVATE hyoid_options hyoid_frontends)
  hyoid_test(live_callback live_callback)
endif()

hyoid_test(live_docs sh ${live}/../with_tools.sh mandoc col -- sh ${live}/docs.sh)

# Each starts a PulseAudio of its own; none asserts a time.
set(live_tools sh ${live}/../with_tools.sh pulseaudio parec pactl)
find_program(HYOID_SYSTEM_PYTHON python3 PATHS /usr/bin NO_DEFAULT_PATH) # Debian's, to which its numpy belongs
hyoid_test(live_sound ${live_tools} -- ${HYOID_SYSTEM_PYTHON} -B ${live}/sound.py)
hyoid_test(live_screen ${live_tools} tmux -- ${HYOID_PYTHON} -B ${live}/screen.py)
hyoid_test(live_keys ${live_tools} -- ${HYOID_PYTHON} -B ${live}/keys.py --seconds 20)
hyoid_test(live_errors ${live_tools} -- ${HYOID_PYTHON} -B ${live}/errors.py)
set_tests_properties(live_sound live_screen live_keys live_errors PROPERTIES LABELS outside)
