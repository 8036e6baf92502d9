# What `cmake --install` puts under a prefix, and `cpack` into a package. Components: `program` and `python`, which make
# the package, and `development`: libraries and headers.
include(CMakePackageConfigHelpers)

set(data_folder ${CMAKE_INSTALL_DATADIR}/spotwright)
set(config_folder ${CMAKE_INSTALL_LIBDIR}/cmake/Spotwright)

install(TARGETS spotwright RUNTIME DESTINATION ${CMAKE_INSTALL_BINDIR} COMPONENT program)
install(DIRECTORY scenarios DESTINATION ${data_folder} COMPONENT program)
install(FILES LICENSE README.md CHANGELOG.md DESTINATION ${CMAKE_INSTALL_DOCDIR} COMPONENT program)
install(DIRECTORY docs DESTINATION ${CMAKE_INSTALL_DOCDIR} COMPONENT program PATTERN "*.py" EXCLUDE)

# Headers of vector code (`-inl.hpp`) serve our own kernels alone; the command line is no library.
install(DIRECTORY sim DESTINATION ${SPOTWRIGHT_INCLUDE_DIR} COMPONENT development
        FILES_MATCHING PATTERN "*.hpp" PATTERN "*-inl.hpp" EXCLUDE PATTERN "cli" EXCLUDE)
install(EXPORT SpotwrightTargets NAMESPACE Spotwright:: DESTINATION ${config_folder} COMPONENT development)
configure_package_config_file(cmake/SpotwrightConfig.cmake.in generated/SpotwrightConfig.cmake
                              INSTALL_DESTINATION ${config_folder} NO_SET_AND_CHECK_MACRO)
write_basic_package_version_file(${PROJECT_BINARY_DIR}/generated/SpotwrightConfigVersion.cmake
                                 COMPATIBILITY SameMinorVersion)
install(FILES ${PROJECT_BINARY_DIR}/generated/SpotwrightConfig.cmake
              ${PROJECT_BINARY_DIR}/generated/SpotwrightConfigVersion.cmake
        DESTINATION ${config_folder} COMPONENT development)

# For pkg-config. Folders follow the file, so that an installed tree can be moved.
file(RELATIVE_PATH way_up ${CMAKE_INSTALL_FULL_LIBDIR}/pkgconfig ${CMAKE_INSTALL_PREFIX})
string(REGEX REPLACE "/$" "" way_up "${way_up}")
set(pc_libdir "\${prefix}")
cmake_path(APPEND pc_libdir "${CMAKE_INSTALL_LIBDIR}")
set(pc_includedir "\${prefix}")
cmake_path(APPEND pc_includedir "${SPOTWRIGHT_INCLUDE_DIR}")
set(pc_libraries ${SPOTWRIGHT_STATIONS})
list(REVERSE pc_libraries)
list(TRANSFORM pc_libraries PREPEND -lspotwright_)
# Where HDF5 lies differs from system to system, and no one name of it for pkg-config is known to all.
foreach(library hdf5::hdf5_hl hdf5::hdf5)
  get_target_property(place ${library} IMPORTED_LOCATION)
  list(APPEND pc_libraries ${place})
endforeach()
list(JOIN pc_libraries " " pc_libraries)
set(pc_cflags ${HDF5_INCLUDE_DIRS})
list(TRANSFORM pc_cflags PREPEND -I)
list(JOIN pc_cflags " " pc_cflags)
configure_file(cmake/spotwright.pc.in generated/spotwright.pc @ONLY)
install(FILES ${PROJECT_BINARY_DIR}/generated/spotwright.pc DESTINATION ${CMAKE_INSTALL_LIBDIR}/pkgconfig
        COMPONENT development)

# `cpack -G DEB`: one package of the program and, where it is built, the Python package.
set(CPACK_GENERATOR DEB)
set(CPACK_PACKAGE_VENDOR "Spotwright maintainers")
set(CPACK_PACKAGE_CONTACT "Spotwright maintainers")
set(CPACK_RESOURCE_FILE_LICENSE ${PROJECT_SOURCE_DIR}/LICENSE)
set(CPACK_PACKAGE_DESCRIPTION "Predicts what an optical displacement sensor, by triangulation or by time of flight, will
read on a part before it is mounted: signal, noise, speckle, bias and their causes, as
numbers, drawings and reports.")
set(CPACK_STRIP_FILES ON)
set(CPACK_COMPONENTS_ALL program)
set(CPACK_COMPONENTS_GROUPING ALL_COMPONENTS_IN_ONE)
set(CPACK_DEB_COMPONENT_INSTALL ON)
set(CPACK_DEBIAN_FILE_NAME DEB-DEFAULT)
set(CPACK_DEBIAN_PACKAGE_SECTION science)
set(CPACK_DEBIAN_PACKAGE_SHLIBDEPS ON)
if(SPOTWRIGHT_PYTHON)
  list(APPEND CPACK_COMPONENTS_ALL python)
  # The module is for one minor version of Python.
  math(EXPR next_python "${SPOTWRIGHT_PYTHON_MINOR} + 1")
  set(CPACK_DEBIAN_PACKAGE_DEPENDS "python3 (>= 3.${SPOTWRIGHT_PYTHON_MINOR}), python3 (<< 3.${next_python}), \
python3-numpy, python3-xarray, python3-h5netcdf")
  set(CPACK_DEBIAN_PACKAGE_RECOMMENDS python3-matplotlib)
  set(CPACK_DEBIAN_PACKAGE_SUGGESTS "python3-dask, python3-distributed")
endif()
include(CPack)
