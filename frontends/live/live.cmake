# hyoid live: sound through PortAudio, the screen through ncurses. Included from frontends/CMakeLists.txt.
pkg_check_modules(PORTAUDIO REQUIRED IMPORTED_TARGET portaudio-2.0)
pkg_check_modules(CURSES REQUIRED ncursesw)
file(GLOB live_sources CONFIGURE_DEPENDS ${CMAKE_CURRENT_LIST_DIR}/*.c)
target_sources(hyoid_frontends PRIVATE ${live_sources})
target_link_libraries(hyoid_frontends PUBLIC PkgConfig::PORTAUDIO ${CURSES_LINK_LIBRARIES})
# What ncurses defines for its header is not for the other files.
set_source_files_properties(${CMAKE_CURRENT_LIST_DIR}/terminal.c TARGET_DIRECTORY hyoid_frontends
                            PROPERTIES COMPILE_OPTIONS "${CURSES_CFLAGS}")
