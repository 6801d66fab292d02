#pragma once

#include <optional>
#include <vector>

#include "models/driver/operating_point.hpp"

namespace driftglow::driver {

// Where the supply's power goes [W].
struct Losses {
  std::vector<double> copper;  // a coil, fundamental
  double harmonics;            // copper above the fundamental
  double capacitor;
  double switches;  // conduction, or the drop of switch and choke
  double tags;
  double elsewhere;  // passive conductors, other circuits' coils
  double total() const;
};

// Of a point of that driver; sums to its supply power. A given current has no switches and no capacitor.
Losses losses(const CurrentFedPushPull& driver, const CoilLoad& coils, const OperatingPoint& point);
Losses losses(const VoltageFedSeries& driver, const CoilLoad& coils, const OperatingPoint& point);
Losses losses(const GivenCurrent& driver, const CoilLoad& coils, const OperatingPoint& point);

// Highest temperature [K] of enamelled wire of class 155 (F), the commonest (IEC 60085 [iec60085]): for 20
// 000 h.
inline constexpr double enamel_class_155 = 428.15;

// What a coil's copper carries and could carry.
struct CopperUse {
  double current_rms;      // A, fundamental
  double current_density;  // A/m2, over the copper, of litz wire its strands
  double temperature;      // K
  double ampacity_rms;     // A, that brings it to the limit in still air, at the point's frequency
  double share() const { return current_rms / ampacity_rms; }
};

// Each coil at the point; `limit` [K] above the surroundings' temperature, else InputError. Ampacity: the
// heat of outer_surface_heat() at the limit over the resistance there, I = sqrt(heat/R); its estimate, and
// its caution, are those of winding_heat.hpp. A rule of thumb of makers for windings in still air, 3 to 5
// A/mm2, is common practice without source and knows nothing of the frequency.
std::vector<CopperUse> copper_use(const CoilLoad& coils, const OperatingPoint& point,
                                  const Surroundings& surroundings, double limit = enamel_class_155);

}  // namespace driftglow::driver
