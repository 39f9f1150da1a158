# What `cmake --install` puts where, and the Debian packages that `cpack` makes of it: libhyoid0 (the shared library),
# libhyoid-dev (what it takes to build against it), hyoid (the program and its pages).
include(GNUInstallDirs)
include(CMakePackageConfigHelpers)

install(TARGETS hyoid_shared EXPORT hyoid
        LIBRARY DESTINATION ${CMAKE_INSTALL_LIBDIR} COMPONENT libhyoid0 NAMELINK_COMPONENT libhyoid-dev)
install(TARGETS hyoid EXPORT hyoid ARCHIVE DESTINATION ${CMAKE_INSTALL_LIBDIR} COMPONENT libhyoid-dev)
install(FILES include/hyoid/hyoid.h include/hyoid/hyoid.hpp DESTINATION ${CMAKE_INSTALL_INCLUDEDIR}/hyoid
        COMPONENT libhyoid-dev)

# Both files find their prefix from where they lie, so that an installed tree may be moved.
set(package ${CMAKE_INSTALL_LIBDIR}/cmake/hyoid)
install(EXPORT hyoid NAMESPACE hyoid:: FILE hyoid-targets.cmake DESTINATION ${package} COMPONENT libhyoid-dev)
write_basic_package_version_file(${CMAKE_CURRENT_BINARY_DIR}/hyoid-config-version.cmake VERSION ${HYOID_VERSION}
                                 COMPATIBILITY SameMinorVersion) # SameMajorVersion from 1.0 on
configure_file(hyoid-config.cmake.in hyoid-config.cmake @ONLY)
install(FILES ${CMAKE_CURRENT_BINARY_DIR}/hyoid-config.cmake ${CMAKE_CURRENT_BINARY_DIR}/hyoid-config-version.cmake
        DESTINATION ${package} COMPONENT libhyoid-dev)

file(RELATIVE_PATH HYOID_PC_PREFIX ${CMAKE_INSTALL_FULL_LIBDIR}/pkgconfig ${CMAKE_INSTALL_PREFIX})
file(RELATIVE_PATH HYOID_PC_LIBDIR ${CMAKE_INSTALL_PREFIX} ${CMAKE_INSTALL_FULL_LIBDIR})
file(RELATIVE_PATH HYOID_PC_INCLUDEDIR ${CMAKE_INSTALL_PREFIX} ${CMAKE_INSTALL_FULL_INCLUDEDIR})
configure_file(hyoid.pc.in hyoid.pc @ONLY)
install(FILES ${CMAKE_CURRENT_BINARY_DIR}/hyoid.pc DESTINATION ${CMAKE_INSTALL_LIBDIR}/pkgconfig COMPONENT libhyoid-dev)

set(pages ${PROJECT_SOURCE_DIR}/docs/man)
install(FILES ${pages}/hyoid.3 DESTINATION ${CMAKE_INSTALL_MANDIR}/man3 COMPONENT libhyoid-dev)
file(GLOB verb_pages CONFIGURE_DEPENDS ${pages}/hyoid.1 ${pages}/hyoid-*.1) # the program, and a page for a verb
install(FILES ${verb_pages} DESTINATION ${CMAKE_INSTALL_MANDIR}/man1 COMPONENT hyoid)
file(GLOB format_pages CONFIGURE_DEPENDS ${pages}/hyoid-*.5)
install(FILES ${format_pages}
        DESTINATION ${CMAKE_INSTALL_MANDIR}/man5 COMPONENT hyoid)
foreach(component libhyoid0 libhyoid-dev hyoid)
  install(FILES ${PROJECT_SOURCE_DIR}/LICENSE RENAME copyright
          DESTINATION ${CMAKE_INSTALL_DATAROOTDIR}/doc/${component} COMPONENT ${component})
endforeach()

set(CPACK_GENERATOR DEB)
set(CPACK_PACKAGE_NAME hyoid)
set(CPACK_PACKAGE_VERSION ${HYOID_VERSION})
set(CPACK_PACKAGE_VENDOR "the hyoid contributors")
set(CPACK_PACKAGE_CONTACT "the hyoid contributors <hyoid@localhost>")
set(CPACK_PACKAGING_INSTALL_PREFIX /usr)
set(CPACK_STRIP_FILES ON)
set(CPACK_COMPONENTS_ALL libhyoid0 libhyoid-dev hyoid)
set(CPACK_DEB_COMPONENT_INSTALL ON)
set(CPACK_DEBIAN_FILE_NAME DEB-DEFAULT)
set(CPACK_DEBIAN_PACKAGE_SHLIBDEPS ON)
set(what "clock-accurate model of a phoneme speech chip of about 1980")
set(CPACK_DEBIAN_LIBHYOID0_PACKAGE_NAME libhyoid0)
set(CPACK_DEBIAN_LIBHYOID0_PACKAGE_SECTION libs)
# A trigger instead of the script that cpack adds where it looks for shared libraries: the package installs where there is
# no shell yet. All that the library takes from outside is memcpy and its like.
set(CPACK_DEBIAN_LIBHYOID0_PACKAGE_SHLIBDEPS OFF)
set(CPACK_DEBIAN_LIBHYOID0_PACKAGE_DEPENDS libc6)
set(control ${CMAKE_CURRENT_BINARY_DIR}/control)
file(WRITE ${control}/shlibs "libhyoid ${HYOID_VERSION_MAJOR} libhyoid0 (>= ${HYOID_VERSION})\n")
file(WRITE ${control}/triggers "activate-noawait ldconfig\n")
set(CPACK_DEBIAN_LIBHYOID0_PACKAGE_CONTROL_EXTRA ${control}/shlibs ${control}/triggers)
set(CPACK_DEBIAN_LIBHYOID0_PACKAGE_CONTROL_STRICT_PERMISSION ON)
set(CPACK_COMPONENT_LIBHYOID0_DESCRIPTION "${what}: shared library")
set(CPACK_DEBIAN_LIBHYOID-DEV_PACKAGE_NAME libhyoid-dev)
set(CPACK_DEBIAN_LIBHYOID-DEV_PACKAGE_SECTION libdevel)
set(CPACK_DEBIAN_LIBHYOID-DEV_PACKAGE_DEPENDS "libhyoid0 (= ${HYOID_VERSION})")
set(CPACK_COMPONENT_LIBHYOID-DEV_DESCRIPTION "${what}: development files")
set(CPACK_DEBIAN_HYOID_PACKAGE_NAME hyoid)
set(CPACK_DEBIAN_HYOID_PACKAGE_SECTION sound)
set(CPACK_COMPONENT_HYOID_DESCRIPTION "${what}: program")
include(CPack)
