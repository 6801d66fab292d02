#pragma once

#include <cstdint>
#include <string>
#include <vector>

#include "sim/flight/result.hpp"
#include "sim/results/setting.hpp"

namespace driftglow::report {

// A recorded flight as the page's replay reads it.
struct ReplayData {
  std::size_t frames;    // packed
  std::size_t recorded;  // in the trace
  double interval;       // s, between frames
  std::string packed;    // base64 of gzip of the channels below
};

// Channels in a row, each `frames` values long, every value as the zigzag varint (7 bits a byte, low first)
// of its difference: for each tag x, y, z in steps of place_step (second differences), then the three
// components of its axis in 1/axis_scale (first differences); then for each LED of each fit of each
// tag its light in eighths of an octave above the light at which it counts as lit, plus light_zero; 0: dark
// (first differences). A plain threshold is one LED, with two octaves where it is lit. Frames are left out at
// the end so that at most most_channel_values are packed, which keeps the page small.
inline constexpr double place_step = 1e-4;  // m
inline constexpr int axis_scale = 100, light_zero = 40, light_per_octave = 8;
inline constexpr std::size_t most_channel_values = 900000;
ReplayData replay_data(const results::Setting& setting, const flight::Trace& trace);

std::string base64(std::string_view bytes);

}  // namespace driftglow::report
