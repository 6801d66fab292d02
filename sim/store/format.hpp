#pragma once

#include <cstdint>
#include <string_view>

// Versions of what the program writes and reads back: raised where a reader of the version before would go
// wrong. All up to the newest are read, the rest is refused.
namespace driftglow::store {

// Of HDF5 files, their root attribute format_version; files of format 1 have no such attribute.
inline constexpr std::int64_t newest_format = 2;

// Of summary.json, study.json and tune.json, their "format_version". New names alone do not raise it.
inline constexpr int json_format = 1;

// Of scenarios, studies and readings, as their key `format` says it.
inline constexpr std::string_view newest_form = "1";

}  // namespace driftglow::store
