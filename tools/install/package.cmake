# `cpack` in a build folder makes two Debian packages of it: driftglow and libdriftglow-dev.
set(CPACK_GENERATOR DEB)
set(CPACK_PACKAGE_NAME driftglow)
set(CPACK_PACKAGE_VENDOR driftglow)
set(CPACK_PACKAGE_CONTACT "driftglow maintainers <maintainers@driftglow.invalid>")
set(CPACK_PACKAGING_INSTALL_PREFIX /usr)
set(CPACK_STRIP_FILES ON)
set(CPACK_INSTALL_DEFAULT_DIRECTORY_PERMISSIONS
  OWNER_READ OWNER_WRITE OWNER_EXECUTE GROUP_READ GROUP_EXECUTE WORLD_READ WORLD_EXECUTE)
set(CPACK_COMPONENTS_ALL program development)
set(CPACK_DEB_COMPONENT_INSTALL ON)
set(CPACK_DEBIAN_FILE_NAME DEB-DEFAULT)
set(CPACK_DEBIAN_PACKAGE_RELEASE 1)
set(CPACK_DEBIAN_PACKAGE_PRIORITY optional)

set(CPACK_DEBIAN_PROGRAM_PACKAGE_NAME driftglow)
set(CPACK_DEBIAN_PROGRAM_PACKAGE_SECTION science)
set(CPACK_DEBIAN_PROGRAM_PACKAGE_SHLIBDEPS ON)
set(CPACK_COMPONENT_PROGRAM_DESCRIPTION "flights of LED tags lit by a coil's field in an air column
Computes the field of drive coils, the air in a vessel and the circuit of every tag, flies
all tags through many random flights, and gives for each tag design and each LED the share of
time for which a tag glows, with an interval. Results are estimates for planning and no proof
of safety.")
set(CPACK_DEBIAN_DEVELOPMENT_PACKAGE_NAME libdriftglow-dev)
set(CPACK_DEBIAN_DEVELOPMENT_PACKAGE_SECTION libdevel)
# What find_package(driftglow) looks for.
set(CPACK_DEBIAN_DEVELOPMENT_PACKAGE_DEPENDS "libboost-dev, libboost-math-dev, libeigen3-dev, libfmt-dev, libhdf5-dev, \
libnlopt-cxx-dev, libpcg-cpp-dev, libssl-dev, libyaml-cpp-dev, nlohmann-json3-dev")
set(CPACK_COMPONENT_DEVELOPMENT_DESCRIPTION "flights of LED tags lit by a coil's field: libraries
Static libraries, headers and the CMake package of driftglow: physics of coils, drivers, tag
circuits, air and motion, and the engine that reads scenarios and flies them.")

set(CPACK_PRE_BUILD_SCRIPTS ${PROJECT_SOURCE_DIR}/tools/install/debian_files.cmake)
set(CPACK_DRIFTGLOW_DEBIAN ${PROJECT_SOURCE_DIR}/tools/install/debian)
include(CPack)
