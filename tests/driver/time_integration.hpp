#pragma once

#include "models/driver/operating_point.hpp"
#include "models/receiver/tank.hpp"

namespace driftglow::driver {

// Steady swing of the push-pull with ideal switches that change over when the tank voltage passes zero.
struct Swing {
  double frequency;       // Hz
  double tank_peak;       // V, largest of the period
  double supply_current;  // A, mean
};

// The switched circuit (tank C parallel to L + R, chokes of finite inductance, none of them lossy) integrated
// with SUNDIALS CVODE (Adams, relative tolerance 1e-9, change-overs and peaks found as roots) from the
// swinging tank: from rest such a circuit can latch with one switch closed. Averages over the last fifth of
// 60 time constants of the tank.
Swing integrate_push_pull(Chokes chokes, double supply, double L, double R, double C, double choke);

// Steady current of a square wave +-amplitude through R, L, C in series.
struct SquareDrive {
  double fundamental;       // A peak, of the current
  double wave_peak;         // A
  double wave_rms;          // A
  double capacitor_peak;    // V, without dc
  double power;             // W
  double switched_current;  // A, at the fall of the square wave
};
SquareDrive integrate_square(double amplitude, double frequency, double L, double R, double C);

// A square wave +-amplitude through R, L, C in series, whose coil couples (M) to one tag's.
struct LoadedDrive {
  double fundamental;  // A peak, of the drive coil
  double tag_power;    // W, that the drive coil's field gives to the tag
  double tag_current;  // A, mean forward LED current
};
LoadedDrive integrate_with_tag(double amplitude, double frequency, double L, double R, double C, double M,
                               const receiver::TankDesign& tag);

}  // namespace driftglow::driver
