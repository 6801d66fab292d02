#include "tools/report/replay_data.hpp"

#include <zlib.h>

#include <algorithm>
#include <cmath>

#include "models/error.hpp"

namespace driftglow::report {
namespace {

void put(std::string& out, std::int64_t value) {
  auto zigzag = static_cast<std::uint64_t>(value) << 1 ^ static_cast<std::uint64_t>(value >> 63);
  for (; zigzag >= 0x80; zigzag >>= 7) out += static_cast<char>(0x80 | (zigzag & 0x7f));
  out += static_cast<char>(zigzag);
}

// Differences of order 1 or 2 of value(0), value(1), ...
void put_channel(std::string& out, std::size_t frames, int order, const auto& value) {
  std::int64_t before = 0, slope = 0;
  for (std::size_t i = 0; i < frames; ++i) {
    const std::int64_t now = value(i), difference = now - before;
    put(out, order == 1 ? difference : difference - slope);
    slope = difference;
    before = now;
  }
}

// gzip [RFC 1952] without a time stamp.
std::string gzip(const std::string& bytes) {
  z_stream stream{};
  constexpr int window_of_gzip = 15 + 16, memory = 9;
  if (deflateInit2(&stream, Z_BEST_COMPRESSION, Z_DEFLATED, window_of_gzip, memory, Z_DEFAULT_STRATEGY) !=
      Z_OK)
    throw LogicError("the replay could not be compressed");
  std::string out(deflateBound(&stream, bytes.size()), '\0');
  stream.next_in = reinterpret_cast<Bytef*>(const_cast<char*>(bytes.data()));
  stream.avail_in = static_cast<uInt>(bytes.size());
  stream.next_out = reinterpret_cast<Bytef*>(out.data());
  stream.avail_out = static_cast<uInt>(out.size());
  const int ended = deflate(&stream, Z_FINISH);
  out.resize(stream.total_out);
  deflateEnd(&stream);
  if (ended != Z_STREAM_END) throw LogicError("the replay could not be compressed");
  return out;
}

// A lost tag has no place from then on and stays dark in the middle of the floor; where it went before may be
// anywhere, and differences of what it counts to must not overflow.
std::int64_t whole(double value) {
  constexpr double most = 1e15;
  return std::isfinite(value) ? std::llround(std::clamp(value, -most, most)) : 0;
}

std::int64_t light_code(double current, double on_current) {
  if (!(current > 0.0)) return 0;
  const double octaves = std::log2(current / on_current);
  return std::clamp<std::int64_t>(std::llround(light_zero + light_per_octave * octaves), 0, 255);
}

}  // namespace

std::string base64(std::string_view bytes) {
  constexpr std::string_view digits = "ABCDEFGHIJKLMNOPQRSTUVWXYZabcdefghijklmnopqrstuvwxyz0123456789+/";
  std::string out;
  for (std::size_t i = 0; i < bytes.size(); i += 3) {
    std::uint32_t group = 0;
    for (std::size_t k = 0; k < 3; ++k)
      group = group << 8 | (i + k < bytes.size() ? static_cast<unsigned char>(bytes[i + k]) : 0U);
    for (std::size_t k = 0; k < 4; ++k)
      out += i + k > bytes.size() ? '=' : digits[group >> (18 - 6 * k) & 63U];
  }
  return out;
}

ReplayData replay_data(const results::Setting& setting, const flight::Trace& trace) {
  const auto& designs = setting.outline.designs;
  const std::size_t tags = setting.outline.tags;
  const std::size_t slots = trace.current.size() / trace.time.size();
  const std::size_t recorded = trace.time.size();
  const std::size_t frames = std::min(recorded, most_channel_values / (6 * tags + slots));
  std::string bytes;
  for (std::size_t channel = 0; channel < 3 * tags; ++channel) {
    put_channel(bytes, frames, 2,
                [&](std::size_t i) { return whole(trace.place[i * 3 * tags + channel] / place_step); });
  }
  for (std::size_t channel = 0; channel < 3 * tags; ++channel) {
    put_channel(bytes, frames, 1,
                [&](std::size_t i) { return whole(trace.axis[i * 3 * tags + channel] * axis_scale); });
  }
  std::size_t tag = 0, slot = 0;
  for (std::size_t d = 0; d < designs.size(); ++d) {
    const auto& fits = setting.glow[d];
    for (int n = 0; n < designs[d].count; ++n, ++tag, slot += results::trace_slots(fits)) {
      for (std::size_t f = 0; f < fits.size(); ++f) {
        if (fits[f].empty()) {
          put_channel(bytes, frames, 1, [&](std::size_t i) {
            return (trace.lit[i * tags + tag] >> f & 1) != 0 ? light_zero + 2 * light_per_octave : 0;
          });
        }
        for (std::size_t led = 0; led < fits[f].size(); ++led) {
          const std::size_t at = slot + results::trace_slot(fits, f, led);
          put_channel(bytes, frames, 1, [&](std::size_t i) {
            return light_code(trace.current[i * slots + at], fits[f][led].on_current);
          });
        }
      }
    }
  }
  const double interval =
      recorded > 1 ? (trace.time.back() - trace.time.front()) / static_cast<double>(recorded - 1) : 0.0;
  return {frames, recorded, interval, base64(gzip(bytes))};
}

}  // namespace driftglow::report
