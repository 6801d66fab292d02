#include <cstdio>
#include <driftglow/models/coil/turn_field.hpp>
#include <initializer_list>

// Flux density of one turn of 100 mm radius that carries 1 A, along its axis.
int main() {
  for (const double height : {0.0, 0.1, 0.2}) {
    const auto field = driftglow::coil::turn_field(0.1, 0.0, height);
    std::printf("%.3f m: %.10e T\n", height, field.axial);
  }
}
