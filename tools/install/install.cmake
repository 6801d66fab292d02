# What `cmake --install` puts where, in two components: `program` and `development`. The program carries its tables and
# its report's style and script in itself, so it runs from any folder and there is nothing to find.
include(GNUInstallDirs)
include(CMakePackageConfigHelpers)
set(headers ${CMAKE_INSTALL_INCLUDEDIR}/driftglow)
set(package ${CMAKE_INSTALL_LIBDIR}/cmake/driftglow)

# Every library of the folders below: a new room is installed without being named here.
function(driftglow_libraries_below folder variable)
  set(found)
  get_property(targets DIRECTORY ${folder} PROPERTY BUILDSYSTEM_TARGETS)
  foreach(target IN LISTS targets)
    get_target_property(type ${target} TYPE)
    if(type STREQUAL STATIC_LIBRARY)
      list(APPEND found ${target})
    endif()
  endforeach()
  get_property(folders DIRECTORY ${folder} PROPERTY SUBDIRECTORIES)
  foreach(below IN LISTS folders)
    driftglow_libraries_below(${below} more)
    list(APPEND found ${more})
  endforeach()
  set(${variable} ${found} PARENT_SCOPE)
endfunction()

driftglow_libraries_below(${PROJECT_SOURCE_DIR}/models model_libraries)
driftglow_libraries_below(${PROJECT_SOURCE_DIR}/sim sim_libraries)
foreach(target driftglow_flags ${model_libraries} ${sim_libraries})
  string(REGEX REPLACE "^driftglow_" "" room ${target})
  set_target_properties(${target} PROPERTIES EXPORT_NAME ${room})
endforeach()
# Both spellings: <driftglow/models/...> for users, "models/..." among our own headers.
target_include_directories(driftglow_flags INTERFACE
  $<INSTALL_INTERFACE:${CMAKE_INSTALL_INCLUDEDIR}> $<INSTALL_INTERFACE:${headers}>)

install(TARGETS driftglow_flags ${model_libraries} EXPORT driftglow-models
  ARCHIVE DESTINATION ${CMAKE_INSTALL_LIBDIR}/driftglow COMPONENT development)
install(TARGETS ${sim_libraries} EXPORT driftglow-sim
  ARCHIVE DESTINATION ${CMAKE_INSTALL_LIBDIR}/driftglow COMPONENT development)
foreach(set models sim)
  install(EXPORT driftglow-${set} NAMESPACE driftglow:: DESTINATION ${package} COMPONENT development)
  install(DIRECTORY ${set} DESTINATION ${headers} COMPONENT development FILES_MATCHING PATTERN *.hpp)
endforeach()
configure_package_config_file(tools/install/driftglowConfig.cmake.in ${PROJECT_BINARY_DIR}/driftglowConfig.cmake
  INSTALL_DESTINATION ${package} NO_SET_AND_CHECK_MACRO)
# Below 1.0 a minor version may change what libraries offer.
write_basic_package_version_file(${PROJECT_BINARY_DIR}/driftglowConfigVersion.cmake COMPATIBILITY SameMinorVersion)
install(FILES ${PROJECT_BINARY_DIR}/driftglowConfig.cmake ${PROJECT_BINARY_DIR}/driftglowConfigVersion.cmake
  tools/install/FindPcg.cmake tools/install/FindNloptCxx.cmake DESTINATION ${package} COMPONENT development)
install(DIRECTORY tests/install/example/ DESTINATION ${CMAKE_INSTALL_DOCDIR}/examples/library COMPONENT development)

install(TARGETS driftglow COMPONENT program)
install(DIRECTORY configs/ DESTINATION ${CMAKE_INSTALL_DOCDIR}/examples COMPONENT program)
install(FILES README.md DESTINATION ${CMAKE_INSTALL_DOCDIR} COMPONENT program)
install(FILES models/references.md DESTINATION ${CMAKE_INSTALL_DOCDIR}/models COMPONENT program)
