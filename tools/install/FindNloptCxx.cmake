# NLopt with its methods in C++, which Debian keeps in a library of its own: target NloptCxx::NloptCxx.
find_library(NLOPT_LIBRARY NAMES nlopt_cxx)
find_path(NLOPT_INCLUDE_DIR nlopt.hpp)
mark_as_advanced(NLOPT_LIBRARY NLOPT_INCLUDE_DIR)
include(FindPackageHandleStandardArgs)
find_package_handle_standard_args(NloptCxx REQUIRED_VARS NLOPT_LIBRARY NLOPT_INCLUDE_DIR)
if(NloptCxx_FOUND AND NOT TARGET NloptCxx::NloptCxx)
  add_library(NloptCxx::NloptCxx UNKNOWN IMPORTED)
  set_target_properties(NloptCxx::NloptCxx PROPERTIES IMPORTED_LOCATION "${NLOPT_LIBRARY}"
    INTERFACE_INCLUDE_DIRECTORIES "${NLOPT_INCLUDE_DIR}")
endif()
