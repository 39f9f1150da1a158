# The model beside a Verilog design: libhyoid_dpi.so for simulators with DPI-C (Verilator), hyoid.vpi for Icarus Verilog.
# Included from frontends/CMakeLists.txt.

include(GNUInstallDirs)

# The test bench that `hyoid vectors` puts beside its files.
hyoid_embed(${CMAKE_CURRENT_BINARY_DIR}/vectors_testbench.c hy_vectors_testbench
            ${CMAKE_CURRENT_SOURCE_DIR}/vectors/testbench.v)
target_sources(hyoid_frontends PRIVATE ${CMAKE_CURRENT_BINARY_DIR}/vectors_testbench.c)

set(hdl ${CMAKE_CURRENT_SOURCE_DIR}/hdl)
set(hdl_sources ${hdl}/pair.c ${hdl}/stimulus.c ${hdl}/report.c ${hdl}/dump.c ${hdl}/bridge.c)

# for unit tests
add_library(hyoid_hdl STATIC ${hdl_sources})
target_include_directories(hyoid_hdl PUBLIC hdl)
target_link_libraries(hyoid_hdl PRIVATE hyoid_options PUBLIC hyoid_frontends)

# for simulators: what it takes, once more, as position-independent code
file(GLOB hdl_shared CONFIGURE_DEPENDS shared/partfile*.c)
add_library(hyoid_hdl_objects OBJECT ${hdl_sources} ${hdl_shared} shared/csvrows.c shared/diag.c shared/fixed.c
            shared/number.c shared/outfile.c shared/outfile_guard.c shared/symbols.c shared/text.c
            ${CMAKE_CURRENT_BINARY_DIR}/default_phonemes.c ${CMAKE_CURRENT_BINARY_DIR}/default_constants.c)
set_target_properties(hyoid_hdl_objects PROPERTIES POSITION_INDEPENDENT_CODE ON)
target_include_directories(hyoid_hdl_objects PRIVATE shared hdl ${CSV_INCLUDE_DIR})
target_compile_definitions(hyoid_hdl_objects PRIVATE _POSIX_C_SOURCE=200809L)
target_link_libraries(hyoid_hdl_objects PRIVATE hyoid_options hyoid)
add_dependencies(hyoid_hdl_objects hyoid_frontends) # which makes the two embedded files

function(hyoid_hdl_library name type)
  add_library(${name} ${type} ${ARGN} $<TARGET_OBJECTS:hyoid_hdl_objects>)
  target_link_libraries(${name} PRIVATE hyoid_options hyoid ${CSV_LIBRARY} ${MATH_LIBRARY})
  target_link_options(${name} PRIVATE -Wl,--version-script=${hdl}/exports.map)
  set_target_properties(${name} PROPERTIES LINKER_LANGUAGE C LINK_DEPENDS ${hdl}/exports.map
                        LIBRARY_OUTPUT_DIRECTORY ${CMAKE_BINARY_DIR}/hdl)
endfunction()

# Two folders deep: nearer to the libraries, cpack would have ldconfig run for what is loaded by its path.
set(hdl_lib ${CMAKE_INSTALL_LIBDIR}/hyoid/hdl)
hyoid_hdl_library(hyoid_dpi MODULE)
install(TARGETS hyoid_dpi LIBRARY DESTINATION ${hdl_lib} COMPONENT hyoid)

find_path(HYOID_VPI_INCLUDE_DIR vpi_user.h PATH_SUFFIXES iverilog)
if(HYOID_VPI_INCLUDE_DIR)
  hyoid_hdl_library(hyoid_vpi MODULE ${hdl}/vpi.c)
  target_include_directories(hyoid_vpi PRIVATE hdl)
  target_include_directories(hyoid_vpi SYSTEM PRIVATE ${HYOID_VPI_INCLUDE_DIR})
  target_compile_definitions(hyoid_vpi PRIVATE _POSIX_C_SOURCE=200809L)
  set_target_properties(hyoid_vpi PROPERTIES PREFIX "" OUTPUT_NAME hyoid SUFFIX .vpi)
  install(TARGETS hyoid_vpi LIBRARY DESTINATION ${hdl_lib} COMPONENT hyoid)
else()
  message(STATUS "vpi_user.h is not installed (Debian: iverilog): the lockstep module for Icarus Verilog is left out")
endif()

file(RELATIVE_PATH HYOID_HDL_LIB ${CMAKE_INSTALL_FULL_DATADIR}/hyoid/hdl ${CMAKE_INSTALL_FULL_LIBDIR}/hyoid/hdl)
configure_file(${hdl}/hyoid.mk.in hyoid.mk @ONLY)
install(FILES ${CMAKE_CURRENT_BINARY_DIR}/hyoid.mk ${hdl}/verilog/hyoid_lockstep.sv ${hdl}/verilog/hyoid_bench.sv ${hdl}/verilog/hyoid_tb.v
        ${hdl}/verilog/hyoid_main.cpp ${hdl}/bridge.h
        DESTINATION ${CMAKE_INSTALL_DATADIR}/hyoid/hdl COMPONENT hyoid)
install(FILES ${PROJECT_SOURCE_DIR}/docs/scores/hour.score DESTINATION ${CMAKE_INSTALL_DATADIR}/hyoid/hdl/example
        COMPONENT hyoid)
install(DIRECTORY ${hdl}/example DESTINATION ${CMAKE_INSTALL_DATADIR}/hyoid/hdl COMPONENT hyoid)
