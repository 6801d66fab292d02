#include "tests/outside.hpp"

#include <doctest/doctest.h>

#include <cmath>
#include <cstdlib>
#include <fstream>
#include <limits>
#include <sstream>
#include <string_view>
#include <utility>

namespace {

std::string quoted(std::string_view text) {
  std::string result = "\"";
  for (const char c : text) {
    if (c == '"' || c == '\\') result += '\\';
    result += c;
  }
  return result + '"';
}

// JSON knows no infinity and no NaN.
void write(std::ostream& out, double value) {
  if (std::isfinite(value))
    out << value;
  else
    out << "null";
}

void write(std::ostream& out, std::complex<double> value) {
  out << '[';
  write(out, value.real());
  out << ',';
  write(out, value.imag());
  out << ']';
}

// As in a failure's message.
std::string shown(std::complex<double> value) {
  std::ostringstream text;
  text << value.real();
  if (value.imag() != 0.0) text << std::showpos << value.imag() << 'j';
  return text.str();
}

// tests/<room>/<file>, wherever the sources lie.
std::string_view below_tests(std::string_view path) {
  const auto at = path.rfind("tests/");
  return at == std::string_view::npos ? path : path.substr(at + 6);
}

}  // namespace

Outside::Outside(std::string source) : source_(std::move(source)) {}

void Outside::matches(const std::string& quantity, double got, double expected, double tolerance,
                      std::source_location place) const {
  check(Kind::relative, quantity, got, expected, tolerance, tolerance * std::fabs(expected), place);
}

void Outside::near(const std::string& quantity, std::complex<double> got, std::complex<double> expected,
                   double tolerance, std::source_location place) const {
  check(Kind::absolute, quantity, got, expected, tolerance, tolerance, place);
}

void Outside::below(const std::string& quantity, double got, double limit, std::source_location place) const {
  check(Kind::limit, quantity, got, 0.0, limit, got >= 0.0 ? limit : -1.0, place);
}

void Outside::check(Kind kind, const std::string& quantity, std::complex<double> got,
                    std::complex<double> expected, double tolerance, double allowed,
                    const std::source_location& place) const {
  const double difference = std::abs(got - expected);
  const bool passed = difference <= allowed;  // false for NaN
  {
    INFO(below_tests(place.file_name()), ":", place.line(), ": ", quantity, " against ", source_, ": got ",
         shown(got), ", expected ", shown(expected), ", difference ", difference, ", allowed ", allowed);
    CHECK(passed);
  }
  const char* file = std::getenv("DRIFTGLOW_OUTSIDE");
  if (file == nullptr || *file == '\0') return;
  // One write a line in append mode: tests run side by side.
  std::ostringstream line;
  line.precision(std::numeric_limits<double>::max_digits10);
  static constexpr const char* kinds[] = {"relative", "absolute", "limit"};
  line << "{\"at\":" << quoted(below_tests(place.file_name())) << ",\"line\":" << place.line()
       << ",\"quantity\":" << quoted(quantity) << ",\"source\":" << quoted(source_) << ",\"kind\":\""
       << kinds[static_cast<int>(kind)] << "\",\"got\":";
  write(line, got);
  line << ",\"expected\":";
  write(line, expected);
  line << ",\"difference\":";
  write(line, difference);
  line << ",\"tolerance\":";
  write(line, tolerance);
  line << ",\"allowed\":";
  write(line, allowed);
  line << ",\"passed\":" << (passed ? "true" : "false") << "}\n";
  std::ofstream out(file, std::ios::app | std::ios::binary);
  out << line.str() << std::flush;
  INFO("DRIFTGLOW_OUTSIDE names ", file, ", which cannot be written");
  CHECK(out.good());
}
