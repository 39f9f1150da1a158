# hyoid live, from outside: its callback, its screen, and its sound on a real sound server. Included from tests/CMakeLists.txt.
set(live ${CMAKE_CURRENT_LIST_DIR})
set(live_python sh ${live}/../with_tools.sh pulseaudio parec pactl python3 -- python3 -B)

if(NOT HYOID_SANITIZE) # which has doors of its own
  add_executable(live_callback ${live}/callback.c)
  target_link_libraries(live_callback PRIVATE hyoid_options hyoid_frontends)
  hyoid_test(live_callback live_callback)
endif()
