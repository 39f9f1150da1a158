# The version, read from where it stands: the public header.
file(STRINGS ${CMAKE_CURRENT_LIST_DIR}/include/hyoid/hyoid.h hyoid_version_lines
     REGEX "^#define HYOID_VERSION_(MAJOR|MINOR|PATCH) [0-9]+$")
if(NOT "${hyoid_version_lines}" MATCHES "MAJOR ([0-9]+);.*MINOR ([0-9]+);.*PATCH ([0-9]+)$")
  message(FATAL_ERROR "hyoid.h does not define its version as three numbers")
endif()
set(HYOID_VERSION ${CMAKE_MATCH_1}.${CMAKE_MATCH_2}.${CMAKE_MATCH_3})
set(HYOID_VERSION_MAJOR ${CMAKE_MATCH_1})
