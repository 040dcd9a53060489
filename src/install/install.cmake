# What `cmake --install` and CPack put where: program, library, headers, pkg-config file, CMake package, manual pages and
# completions. The pages are written by the program itself, from its own tables.

set(pages_folder ${CMAKE_CURRENT_BINARY_DIR}/pages)
file(MAKE_DIRECTORY ${pages_folder})
set(pages)
foreach(page IN ITEMS man:gainwalk.1 man-chain:gainwalk-chain.5 bash:gainwalk zsh:_gainwalk)
  string(REPLACE ":" ";" parts ${page})
  list(GET parts 0 kind)
  list(GET parts 1 name)
  add_custom_command(OUTPUT ${pages_folder}/${name}
    COMMAND gainwalk pages ${kind} --force --output ${pages_folder}/${name}
    DEPENDS gainwalk COMMENT "Writing ${name}" VERBATIM)
  list(APPEND pages ${pages_folder}/${name})
endforeach()
add_custom_target(pages ALL DEPENDS ${pages})

install(TARGETS gainwalk)
install(TARGETS libgainwalk EXPORT gainwalk-targets)
install(DIRECTORY include/gainwalk DESTINATION ${CMAKE_INSTALL_INCLUDEDIR})
install(FILES ${pages_folder}/gainwalk.1 DESTINATION ${CMAKE_INSTALL_MANDIR}/man1)
install(FILES ${pages_folder}/gainwalk-chain.5 DESTINATION ${CMAKE_INSTALL_MANDIR}/man5)
install(FILES ${pages_folder}/gainwalk DESTINATION ${CMAKE_INSTALL_DATADIR}/bash-completion/completions)
# zsh looks in site-functions for what an administrator installed; Debian's packages use a folder of their own
install(CODE "
  if(CMAKE_INSTALL_PREFIX STREQUAL \"/usr\" AND EXISTS /etc/debian_version)
    set(zsh_folder vendor-completions)
  else()
    set(zsh_folder site-functions)
  endif()
  file(INSTALL \"${pages_folder}/_gainwalk\" DESTINATION \"\${CMAKE_INSTALL_PREFIX}/${CMAKE_INSTALL_DATADIR}/zsh/\${zsh_folder}\")")

# for programs that use the library
set(GAINWALK_FIND_MODULES)
foreach(name IN LISTS GAINWALK_MODULE_NAMES)
  string(APPEND GAINWALK_FIND_MODULES "pkg_check_modules(${name} REQUIRED QUIET IMPORTED_TARGET ${GAINWALK_MODULE_${name}})\n")
endforeach()
list(TRANSFORM GAINWALK_MODULE_NAMES REPLACE "(.+)" "GAINWALK_MODULE_\\1" OUTPUT_VARIABLE module_variables)
set(modules)
foreach(variable IN LISTS module_variables)
  list(APPEND modules ${${variable}})
endforeach()
list(JOIN modules " " GAINWALK_MODULES)
file(RELATIVE_PATH PC_PREFIX /root/${CMAKE_INSTALL_LIBDIR}/pkgconfig /root)
string(REGEX REPLACE "/$" "" PC_PREFIX ${PC_PREFIX})
list(TRANSFORM CMAKE_DL_LIBS PREPEND -l OUTPUT_VARIABLE GAINWALK_DL)
configure_file(src/install/gainwalk.pc.in gainwalk.pc @ONLY)
install(FILES ${CMAKE_CURRENT_BINARY_DIR}/gainwalk.pc DESTINATION ${CMAKE_INSTALL_LIBDIR}/pkgconfig)

include(CMakePackageConfigHelpers)
set(package_folder ${CMAKE_INSTALL_LIBDIR}/cmake/gainwalk)
configure_package_config_file(src/install/gainwalk-config.cmake.in gainwalk-config.cmake INSTALL_DESTINATION ${package_folder})
write_basic_package_version_file(gainwalk-config-version.cmake COMPATIBILITY SameMinorVersion)
install(FILES ${CMAKE_CURRENT_BINARY_DIR}/gainwalk-config.cmake ${CMAKE_CURRENT_BINARY_DIR}/gainwalk-config-version.cmake
  DESTINATION ${package_folder})
install(EXPORT gainwalk-targets NAMESPACE gainwalk:: DESTINATION ${package_folder})

# a Debian package: cpack -G DEB
set(CPACK_PACKAGE_NAME gainwalk)
set(CPACK_PACKAGE_CONTACT "Gainwalk maintainers <maintainers@gainwalk.invalid>")
set(CPACK_PACKAGE_DESCRIPTION_SUMMARY "${PROJECT_DESCRIPTION}")
set(CPACK_PACKAGE_DESCRIPTION "Captures taken at successive test points (oscilloscope CSV, sound-card WAV) are measured,
each stage is compared with what it ought to do, and one line says where the signal
first goes wrong. Program, library, headers and manual.")
set(CPACK_PACKAGING_INSTALL_PREFIX /usr)
set(CPACK_STRIP_FILES ON)
set(CPACK_GENERATOR DEB)
set(CPACK_DEBIAN_FILE_NAME DEB-DEFAULT)
set(CPACK_DEBIAN_PACKAGE_SECTION sound)
set(CPACK_DEBIAN_PACKAGE_SHLIBDEPS ON)
set(CPACK_DEBIAN_PACKAGE_DEPENDS libsndfile1) # loaded while running, so that nothing else tells
set(CPACK_DEBIAN_PACKAGE_SUGGESTS "libkissfft-dev, libinih-dev, libjansson-dev, nettle-dev")
include(CPack)
