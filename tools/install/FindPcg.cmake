# The random generator pcg-cpp, headers alone: target Pcg::Pcg.
find_path(PCG_INCLUDE_DIR pcg_random.hpp)
mark_as_advanced(PCG_INCLUDE_DIR)
include(FindPackageHandleStandardArgs)
find_package_handle_standard_args(Pcg REQUIRED_VARS PCG_INCLUDE_DIR)
if(Pcg_FOUND AND NOT TARGET Pcg::Pcg)
  add_library(Pcg::Pcg INTERFACE IMPORTED)
  set_target_properties(Pcg::Pcg PROPERTIES INTERFACE_INCLUDE_DIRECTORIES "${PCG_INCLUDE_DIR}")
endif()
