# Without optimisation or with sanitizers not everything is inlined; such programs stay on the machine they are built on.
if(CMAKE_BUILD_TYPE MATCHES "^(Release|RelWithDebInfo|MinSizeRel)$" AND NOT DRIFTGLOW_SANITIZE)
  get_target_property(kernels driftglow_flight SOURCES)
  get_target_property(home driftglow_flight SOURCE_DIR)
  if(kernel_avx2.cpp IN_LIST kernels)
    add_library(wide_symbols_example OBJECT wide_symbols_example.cpp)
    get_source_file_property(options ${home}/kernel_avx2.cpp TARGET_DIRECTORY driftglow_flight COMPILE_OPTIONS)
    target_compile_options(wide_symbols_example PRIVATE ${options})
    target_link_libraries(wide_symbols_example PRIVATE driftglow_flags)
    set(pairs "")
    foreach(set avx2 avx512)
      set(objects $<TARGET_OBJECTS:driftglow_flight>)
      list(APPEND pairs "${set}=$<FILTER:${objects},INCLUDE,kernel_${set}>"
        ${set}=$<TARGET_OBJECTS:pack_probe_${set}> ${set}=$<TARGET_OBJECTS:motion_probe_${set}>)
    endforeach()
    add_test(NAME wide_symbols COMMAND ${CMAKE_CURRENT_SOURCE_DIR}/wide_symbols_test.sh
      $<TARGET_OBJECTS:wide_symbols_example> ${pairs})
  endif()
endif()
