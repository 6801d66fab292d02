#pragma once

#include <string>
#include <string_view>
#include <vector>

// What a tag's tank carries, by name: one emitter, or an antiparallel pair of two as `green | red`.
namespace driftglow::scenario {

// The emitters' names, without spaces around them, as they stand; more than two or empty ones too.
std::vector<std::string> emitters_of_fit(std::string_view fit);

// How a fit of these emitters is called in results: their names joined by " | ". No emitter's name holds a
// bar, so that no two fits share a name; the bar means nothing in HDF5 paths and CSV.
std::string fit_name(const std::vector<std::string>& emitters);

}  // namespace driftglow::scenario
