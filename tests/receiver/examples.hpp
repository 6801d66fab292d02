#pragma once

#include <yaml-cpp/yaml.h>

#include <numbers>
#include <string>
#include <utility>
#include <vector>

#include "models/receiver/tank.hpp"

// LEDs and tanks that several tests of the receiver share. Invented, of the order of model.md section 8.
namespace driftglow::receiver::example {

inline constexpr double omega = 2.0 * std::numbers::pi * 117.72e3;
inline constexpr ReverseData reverse{25.0, 50e-9};
inline constexpr double temperature = 293.15;

inline LedLaw yellow_green() {
  return LedLaw({1.93, 5e-20, 9.0, temperature, reverse});
}
inline LedLaw white() {
  return LedLaw({2.35, 1e-23, 11.0, temperature, reverse});
}

// Few-turn wide tag (Q about 6), the tag of model.md section 8 (9), 86 uH with 22 nF (14), many turns (39).
inline TankDesign few_turns(const LedLaw& led) {
  return {20e-6, 2.46, 100e-9, 0.001, 40e-12, led};
}
inline TankDesign worked(const LedLaw& led) {
  return {39.22e-6, 3.13, 47e-9, 0.0, 40e-12, led};
}
inline TankDesign middle(const LedLaw& led) {
  return {86e-6, 4.5, 22e-9, 0.001, 40e-12, led};
}
inline TankDesign many_turns(const LedLaw& led) {
  return {1500e-6, 27.7, 1.2e-9, 0.001, 40e-12, led};
}

// (A, V) points by name from data/emitters/typical.yaml, in its order; units u, m or none before A and V.
inline std::vector<std::pair<std::string, std::vector<std::pair<double, double>>>> typical_emitters() {
  const auto number = [](const YAML::Node& node) {
    const auto text = node.as<std::string>();
    const char prefix = text[text.find(' ') + 1];
    return std::stod(text) * (prefix == 'u' ? 1e-6 : prefix == 'm' ? 1e-3 : 1.0);
  };
  std::vector<std::pair<std::string, std::vector<std::pair<double, double>>>> all;
  for (const auto& emitter : YAML::LoadFile(DRIFTGLOW_SOURCE_DIR "/data/emitters/typical.yaml")["emitters"]) {
    all.emplace_back(emitter["name"].as<std::string>(), std::vector<std::pair<double, double>>());
    for (const auto& point : emitter["points"]) {
      all.back().second.emplace_back(number(point[0]), number(point[1]));
    }
  }
  return all;
}

}  // namespace driftglow::receiver::example
