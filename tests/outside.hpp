#pragma once

#include <complex>
#include <source_location>
#include <string>

// Checks against something outside the project: a published table, a closed form, a conservation law, another
// library. Each is a doctest check; and where the environment variable DRIFTGLOW_OUTSIDE names a file, it is
// also appended there as one line of JSON, from which `tools/validate` makes its table. Quantities are named
// with their unit in brackets, sources as in models/references.md; [memory] marks a value from memory.
class Outside {
 public:
  // `source` holds for all checks made with this object.
  explicit Outside(std::string source);

  // |got - expected| <= tolerance * |expected|.
  void matches(const std::string& quantity, double got, double expected, double tolerance = 1e-12,
               std::source_location place = std::source_location::current()) const;

  // |got - expected| <= tolerance, in the quantity's unit.
  void near(const std::string& quantity, std::complex<double> got, std::complex<double> expected,
            double tolerance, std::source_location place = std::source_location::current()) const;

  // 0 <= got <= limit: an error that should be zero, or a test statistic with its critical value.
  void below(const std::string& quantity, double got, double limit,
             std::source_location place = std::source_location::current()) const;

 private:
  enum class Kind { relative, absolute, limit };
  void check(Kind kind, const std::string& quantity, std::complex<double> got, std::complex<double> expected,
             double tolerance, double allowed, const std::source_location& place) const;

  std::string source_;
};
