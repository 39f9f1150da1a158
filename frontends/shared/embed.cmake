# hyoid_embed(OUT_C SYMBOL FILE): makes OUT_C, which defines
#     const unsigned char SYMBOL[];   the bytes of FILE
#     const size_t SYMBOL_size;
# It is made anew when FILE changes. OUT_C is added to a target as any source file.
#
# The same file is the script that does the work at build time (cmake -P), so that nothing else needs to be found.

if(DEFINED HYOID_EMBED_IN)
  file(READ "${HYOID_EMBED_IN}" bytes HEX)
  string(REGEX REPLACE "(................................)" "\\1\n" bytes "${bytes}")
  string(REGEX REPLACE "([0-9a-f][0-9a-f])" "0x\\1," bytes "${bytes}")
  get_filename_component(name "${HYOID_EMBED_IN}" NAME)
  file(WRITE "${HYOID_EMBED_OUT}" "/* ${name}, made by embed.cmake. */
#include <stddef.h>

extern const unsigned char ${HYOID_EMBED_SYMBOL}[];
extern const size_t ${HYOID_EMBED_SYMBOL}_size;

const unsigned char ${HYOID_EMBED_SYMBOL}[] = {
${bytes}
};
const size_t ${HYOID_EMBED_SYMBOL}_size = sizeof ${HYOID_EMBED_SYMBOL};
")
  return()
endif()

function(hyoid_embed OUT_C SYMBOL FILE)
  get_filename_component(in "${FILE}" ABSOLUTE)
  set(script "${CMAKE_CURRENT_FUNCTION_LIST_FILE}")
  add_custom_command(
    OUTPUT "${OUT_C}"
    COMMAND "${CMAKE_COMMAND}" "-DHYOID_EMBED_IN=${in}" "-DHYOID_EMBED_OUT=${OUT_C}" "-DHYOID_EMBED_SYMBOL=${SYMBOL}"
            -P "${script}"
    DEPENDS "${in}" "${script}"
    COMMENT "Embedding ${FILE}"
    VERBATIM)
endfunction()
