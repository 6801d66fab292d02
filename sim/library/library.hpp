#pragma once

#include <string_view>

// The tables of data/, compiled into the program so that it needs no folder beside it.
namespace driftglow::library {

// data/emitters/typical.yaml, data/fans/typical.yaml: text as in the files; sim/scenario reads them with the
// scenario's own key table.
std::string_view emitters_yaml();
std::string_view fans_yaml();

// data/wire/enamelled_diameter.csv, text as in the file.
std::string_view enamelled_diameter_csv();

}  // namespace driftglow::library
