include_guard()

# driftglow_per_instruction_set(<target> <source> LINKS ... SETS ...): compiles the source into the target once for each of
# the sets that this kind of processor may have, with the flags of the set's flight kernel. The source sees NUMBER, the
# number type; NUMBER_HEADER, where it stands; and PROBE, a name of the set's own.
function(driftglow_per_instruction_set target source)
  cmake_parse_arguments(ARG "" "" "LINKS;SETS" ${ARGN})
  get_target_property(kernels driftglow_flight SOURCES)
  get_target_property(home driftglow_flight SOURCE_DIR)
  cmake_path(GET source STEM stem)
  foreach(set IN LISTS ARG_SETS)
    set(kernel kernel_${set}.cpp)
    if(NOT kernel IN_LIST kernels)
      continue()
    endif()
    set(object ${stem}_${set})
    add_library(${object} OBJECT ${source})
    # The kernel's options come last: they take back some of the others, as the sanitizers.
    add_library(${object}_options INTERFACE)
    target_link_libraries(${object} PRIVATE driftglow_flags ${ARG_LINKS} ${object}_options)
    if(set STREQUAL scalar)
      target_compile_definitions(${object} PRIVATE NUMBER=double NUMBER_HEADER="models/numeric/lane.hpp")
    else()
      target_compile_definitions(${object} PRIVATE NUMBER=driftglow::numeric::Pack
        NUMBER_HEADER="models/numeric/pack_${set}.hpp")
    endif()
    target_compile_definitions(${object} PRIVATE PROBE=probe_${set})
    # As sim/flight says of -Wno-maybe-uninitialized; the gathers of load_two() inlined alone fall under this one.
    target_compile_options(${object} PRIVATE -Wno-uninitialized)
    foreach(property COMPILE_OPTIONS COMPILE_DEFINITIONS)
      get_source_file_property(value ${home}/${kernel} TARGET_DIRECTORY driftglow_flight ${property})
      if(value)
        set_property(TARGET ${object}_options APPEND PROPERTY INTERFACE_${property} ${value})
      endif()
    endforeach()
    target_link_libraries(${target} PRIVATE ${object})
  endforeach()
endfunction()
