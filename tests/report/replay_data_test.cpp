#include "tools/report/replay_data.hpp"

#include <doctest/doctest.h>
#include <zlib.h>

#include <cmath>

#include "tests/results/made_up.hpp"

using namespace driftglow;
using namespace driftglow::report;

namespace {

std::string decoded(const std::string& text) {
  const std::string digits = "ABCDEFGHIJKLMNOPQRSTUVWXYZabcdefghijklmnopqrstuvwxyz0123456789+/";
  std::string bytes;
  unsigned bits = 0, count = 0;
  for (const char c : text) {
    if (c == '=') break;
    bits = bits << 6 | static_cast<unsigned>(digits.find(c));
    if ((count += 6) >= 8) bytes += static_cast<char>(bits >> (count -= 8) & 255U);
  }
  return bytes;
}

std::string inflated(const std::string& bytes) {
  std::string out(1 << 20, '\0');
  z_stream stream{};
  REQUIRE(inflateInit2(&stream, 15 + 16) == Z_OK);
  stream.next_in = reinterpret_cast<Bytef*>(const_cast<char*>(bytes.data()));
  stream.avail_in = static_cast<uInt>(bytes.size());
  stream.next_out = reinterpret_cast<Bytef*>(out.data());
  stream.avail_out = static_cast<uInt>(out.size());
  REQUIRE(inflate(&stream, Z_FINISH) == Z_STREAM_END);
  out.resize(stream.total_out);
  inflateEnd(&stream);
  return out;
}

// The next value of a packed stream.
long next(const std::string& bytes, std::size_t& at) {
  unsigned long value = 0;
  for (int shift = 0;; shift += 7) {
    const auto byte = static_cast<unsigned char>(bytes[at++]);
    value |= static_cast<unsigned long>(byte & 0x7f) << shift;
    if (byte < 0x80) break;
  }
  return value % 2 == 1 ? -static_cast<long>((value + 1) / 2) : static_cast<long>(value / 2);
}

}  // namespace

// RFC 4648, section 10.
TEST_CASE("base64 of the standard's examples") {
  CHECK(base64("") == "");
  CHECK(base64("f") == "Zg==");
  CHECK(base64("fo") == "Zm8=");
  CHECK(base64("foo") == "Zm9v");
  CHECK(base64("foobar") == "Zm9vYmFy");
}

TEST_CASE("what is packed is the trace, to half a step") {
  const auto setting = results::made_up_setting();
  flight::Trace trace;
  constexpr int frames = 40, tags = 2;
  for (int i = 0; i < frames; ++i) {
    trace.time.push_back(0.02 * (i + 1));
    for (int tag = 0; tag < tags; ++tag) {
      for (const double x : {0.09 * std::sin(0.3 * i + tag), -0.09 * std::cos(0.3 * i), 0.01 * i})
        trace.place.push_back(static_cast<float>(x));
      for (const double n : {std::sin(0.7 * i), 0.0, std::cos(0.7 * i)})
        trace.axis.push_back(static_cast<float>(n));
      trace.lit.push_back(1);
      trace.current.insert(trace.current.end(), {static_cast<float>(2e-4 * std::exp2(0.1 * i)), 0.0F});
    }
  }
  const auto packed = replay_data(setting, trace);
  CHECK(packed.frames == frames);
  CHECK(packed.interval == doctest::Approx(0.02));
  const std::string bytes = inflated(decoded(packed.packed));
  std::size_t at = 0;
  for (int channel = 0; channel < 6 * tags; ++channel) {
    const bool place = channel < 3 * tags;
    long value = 0, slope = 0;
    for (int i = 0; i < frames; ++i) {
      slope = place ? slope + next(bytes, at) : next(bytes, at);
      value += slope;
      const double step = place ? place_step : 1.0 / axis_scale;
      const double truth = (place ? trace.place : trace.axis)[i * 3 * tags + channel % (3 * tags)];
      // Half a step, and what a float rounds.
      CHECK(std::abs(static_cast<double>(value) * step - truth) <= 0.5 * step + 1e-6);
    }
  }
  for (int slot = 0; slot < 2 * tags; ++slot) {
    long value = 0;
    for (int i = 0; i < frames; ++i) {
      value += next(bytes, at);
      // Octaves above the threshold of 0.2 mA; the second fit is dark.
      CHECK(value == (slot % 2 == 0 ? std::lround(light_zero + light_per_octave * 0.1 * i) : 0));
    }
  }
  CHECK(at == bytes.size());
}

TEST_CASE("a long recording is cut so that the page stays small") {
  const auto setting = results::made_up_setting();
  flight::Trace trace;
  const std::size_t frames = 80000;
  for (std::size_t i = 0; i < frames; ++i) trace.time.push_back(0.02 * static_cast<double>(i));
  trace.place.assign(6 * frames, 0.1F);
  trace.axis = trace.place;
  trace.lit.assign(2 * frames, 0);
  trace.current.assign(4 * frames, 0.0F);
  const auto packed = replay_data(setting, trace);
  CHECK(packed.recorded == frames);
  CHECK(packed.frames == most_channel_values / 16);
}
