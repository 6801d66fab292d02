#include "tools/report/markup.hpp"

#include <doctest/doctest.h>

#include <cmath>
#include <limits>

using namespace driftglow::report;

constexpr double infinity = std::numeric_limits<double>::infinity();

TEST_CASE("markup in a text is shown, not obeyed") {
  CHECK(escape("</script><img onerror='x'> & \"y\"") ==
        "&lt;/script&gt;&lt;img onerror=&#39;x&#39;&gt; &amp; &quot;y&quot;");
  CHECK(escape("a\x01z") == "a\uFFFDz");
  CHECK(escape("grün") == "grün");
}

TEST_CASE("numbers keep their significant digits") {
  CHECK(number(48.1234, 3) == "48.1");
  CHECK(number(0.01234, 2) == "0.012");
  CHECK(number(9.996, 3) == "10.0");
  CHECK(number(12345.0, 3) == "12345");
  CHECK(number(-2.5, 2) == "−2.5");
  CHECK(number(2.5e-6, 2) == "2.5·10^-6");
  CHECK(number(0.0, 3) == "0");
  CHECK(number(std::nan(""), 3) == "–");
}

TEST_CASE("an interval sets the digits of its mean") {
  CHECK(with_interval({0.48123, 0.0, 0.0062, 8}, 100.0) == "48.1 ± 0.6");
  CHECK(with_interval({0.48123, 0.0, 0.0012, 8}, 100.0) == "48.12 ± 0.12");
  CHECK(with_interval({1234.0, 0.0, 96.0, 8}, 1.0) == "1234 ± 96");
  CHECK(with_interval({0.5, 0.0, 0.0996, 8}, 1.0) == "0.50 ± 0.10");
  CHECK(with_interval({0.4, 0.0, 0.0, 8}, 100.0) == "40.00 ± 0");
  CHECK(with_interval({0.4, infinity, infinity, 1}, 100.0) == "40.00");
  CHECK(with_interval({std::nan(""), infinity, infinity, 0}, 1.0) == "–");
}
