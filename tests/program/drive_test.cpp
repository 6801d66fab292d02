#include <doctest/doctest.h>
#include <fmt/format.h>

#include <boost/math/special_functions/ellint_1.hpp>
#include <boost/math/special_functions/ellint_2.hpp>
#include <cmath>
#include <complex>
#include <numbers>

#include "models/numeric/vec3.hpp"
#include "sim/store/hdf5_file.hpp"
#include "tests/outside.hpp"
#include "tests/program/run.hpp"
#include "tests/relative.hpp"

// Coils, circuits, drivers and passive metal, through the finished program.
using namespace driftglow;
using namespace driftglow::program_test;
using numeric::Vec3;

namespace {

constexpr double pi = std::numbers::pi;
constexpr double mu_0 = 4e-7 * pi;  // to 1e-9
constexpr double bare = 1e-3, pitch = 2e-3;
constexpr int turns = 14;

// A turn's field by Biot-Savart's sum over 720 pieces (periodic: geometric convergence).
Vec3<double> biot_savart(const Vec3<double>& centre, const Vec3<double>& axis, const Vec3<double>& first,
                         double radius, const Vec3<double>& p) {
  const auto second = numeric::cross(axis, first);
  Vec3<double> sum{0.0, 0.0, 0.0};
  constexpr int pieces = 720;
  for (int i = 0; i < pieces; ++i) {
    const double angle = 2.0 * pi * i / pieces;
    const auto q = centre + (radius * std::cos(angle)) * first + (radius * std::sin(angle)) * second;
    const auto dl = (2.0 * pi * radius / pieces) * (std::cos(angle) * second - std::sin(angle) * first);
    const auto r = p - q;
    sum += (1e-7 / std::pow(numeric::norm(r), 3)) * numeric::cross(dl, r);
  }
  return sum;
}

Vec3<double> coil_field(const Vec3<double>& centre, const Vec3<double>& axis, const Vec3<double>& first,
                        double inner_diameter, const Vec3<double>& p) {
  Vec3<double> sum{0.0, 0.0, 0.0};
  for (int turn = 0; turn < turns; ++turn)
    sum += biot_savart(centre + (pitch * (turn - 0.5 * (turns - 1))) * axis, axis, first,
                       0.5 * (inner_diameter + bare), p);
  return sum;
}

const Vec3<double> x_axis{1.0, 0.0, 0.0}, z_axis{0.0, 0.0, 1.0};

// Per ampere, of the two circuits below.
Vec3<double> upright_field(const Vec3<double>& p) {
  return coil_field({0.0, 0.0, 0.085}, z_axis, x_axis, 0.204, p) +
         coil_field({0.0, 0.0, 0.235}, z_axis, x_axis, 0.204, p);
}
Vec3<double> across_field(const Vec3<double>& p) {
  return coil_field({-0.13, 0.0, 0.16}, x_axis, z_axis, 0.3, p) +
         coil_field({0.13, 0.0, 0.16}, x_axis, z_axis, 0.3, p);
}

std::string crossed(const std::string& driver, const std::string& upright, const std::string& across,
                    double threshold) {
  return fmt::format(R"(
vessel: {{inner_diameter: 190 mm, height: 320 mm}}
drive:
  driver: {{{}}}
  circuits:
    - {{name: upright{}}}
    - {{name: across{}}}
  coils:
    - {{name: lower, circuit: upright, height: 85 mm, inner_diameter: 204 mm, turns: 14, wire: 1 mm, pitch: 2 mm}}
    - {{name: upper, circuit: upright, height: 235 mm, inner_diameter: 204 mm, turns: 14, wire: 1 mm, pitch: 2 mm}}
    - {{name: left, circuit: across, centre: [-130 mm, 0 mm, 160 mm], axis: [1, 0, 0], inner_diameter: 300 mm, turns: 14, wire: 1 mm, pitch: 2 mm}}
    - {{name: right, circuit: across, centre: [130 mm, 0 mm, 160 mm], axis: [1, 0, 0], inner_diameter: 300 mm, turns: 14, wire: 1 mm, pitch: 2 mm}}
tags:
  - {{name: held, count: 10, receiver: {{threshold_flux_density: {} uT}}, hold: {{place: [0 mm, 0 mm, 160 mm], axis: uniform}}}}
flight: {{duration: 60 s, warmup: 0 s, replicates: 16, seed: 3}}
)",
                     driver, upright, across, threshold * 1e6);
}

}  // namespace

// Two equal fields in quadrature at right angles give B sqrt(1 - n_y^2): duty sqrt(1 - (B_on/B)^2). A field
// or threshold wrong by 1 % moves it by 0.0023, a phase wrong by 3 degrees by 0.001; four standard errors
// here are 0.002.
TEST_CASE("crossed coils in quadrature: duty = sqrt(1 - (B_on/B)^2)") {
  const Outside outside("closed form sqrt(1 - (B_on/B)^2), model.md section 7.2");
  const Vec3<double> centre{0.0, 0.0, 0.16};
  const double upright = upright_field(centre).z, across = across_field(centre).x;
  const double threshold = 0.45 * upright;
  const Folder folder;
  const auto text = crossed("kind: given_current, current: 1 A, frequency: 118 kHz", "",
                            fmt::format(", phase: 90 deg, current_ratio: {}", upright / across), threshold);
  const auto duty = fly(folder, text)["tag_designs"][0]["fits"][0]["duty"];
  const double exact = std::sqrt(1.0 - 0.45 * 0.45), error = duty["standard_error"].get<double>();
  CHECK(error < 0.0005);
  outside.near("duty in crossed coils in quadrature", duty["mean"].get<double>(), exact, 4.0 * error);
  CHECK(duty["mean"].get<double>() == relative(exact, 0.01));
  // In step the two add up to one axis of sqrt(2) times the field.
  const Folder in_step;
  const auto single =
      fly(in_step, with(text, "phase: 90 deg", "phase: 0 deg"))["tag_designs"][0]["fits"][0]["duty"];
  Outside("closed form 1 - B_on/B, model.md section 7.1")
      .near("duty in one of the crossed coils", single["mean"].get<double>(), (1.0 - 0.45 / std::sqrt(2.0)),
            4.0 * single["standard_error"].get<double>());
}

// Nodes against Biot and Savart: stored node values are the field itself (1e-9 for mu0 and the sum).
TEST_CASE("coil.h5 holds the field of each circuit and of all") {
  const Outside outside("Biot-Savart on the nodes");
  const Folder folder;
  write(folder / "crossed.yaml", crossed("kind: given_current, current: 2 A, frequency: 118 kHz", "",
                                         ", phase: 90 deg, current_ratio: 0.5", 18e-6));
  REQUIRE(run(folder, "map crossed.yaml --quiet --out out").status == 0);
  const store::Reader file(folder / "out/coil.h5", "");
  CHECK(file.number("/check", "interpolation_error") <= 1e-4);
  const auto x = file.read<double>("/axes/x", 1).values, y = file.read<double>("/axes/y", 1).values,
             z = file.read<double>("/axes/z", 1).values;
  const auto all = file.read<double>("/parts/B", 5);
  REQUIRE(all.extents[3] == 2);
  const auto at = [&](const std::string& name, std::size_t node) {
    return file.read<double>(name, 3).values[node];
  };
  CHECK(file.description("/circuit/across/B_x").unit == "T/A");
  for (const double share : {0.3, 0.55}) {
    const auto i = static_cast<std::size_t>(share * static_cast<double>(x.size())),
               j = static_cast<std::size_t>(0.4 * static_cast<double>(y.size())),
               k = static_cast<std::size_t>(share * static_cast<double>(z.size()));
    const std::size_t node = (i * y.size() + j) * z.size() + k;
    const Vec3<double> p{x[i], y[j], z[k]};
    const auto upright = upright_field(p), across = across_field(p);
    const double near = 1e-8 * numeric::norm(upright);
    outside.near("field in coil.h5 of crossed circuits [T/A]", at("/circuit/upright/B_x", node), upright.x,
                 near);
    outside.near("field in coil.h5 of crossed circuits [T/A]", at("/circuit/upright/B_y", node), upright.y,
                 near);
    outside.near("field in coil.h5 of crossed circuits [T/A]", at("/circuit/upright/B_z", node), upright.z,
                 near);
    outside.near("field in coil.h5 of crossed circuits [T/A]", at("/circuit/across/B_x", node), across.x,
                 near);
    outside.near("field in coil.h5 of crossed circuits [T/A]", at("/circuit/across/B_z", node), across.z,
                 near);
    // 2 A in phase; 1 A ahead by a quarter period stands a quarter period later with its sign turned.
    CHECK(std::fabs(all.values[node * 6 + 2] - 2.0 * upright.z) <= 2.0 * near);
    CHECK(std::fabs(all.values[node * 6 + 3] + across.x) <= near);
  }
  const auto again = run(folder, "map crossed.yaml --out out --json --quiet");
  CHECK(again.out.find("\"origin\": \"reused\"") != std::string::npos);
}

// Two coupled turns: the ring takes off the inductance omega^2 M^2 L2/|Z2|^2 and adds the resistance omega^2
// M^2 R2/|Z2|^2; M by Maxwell's formula (1873, art. 701), L2 = mu0 a (ln(8a/w) - 2 + d/2w) and R2 = rho 2 pi
// a/(2 pi w d) (1 + d/2w) of thin round wire at strong skin effect, skin depth d (Smythe), good to (d/w)^2
// = 1.5 % of R2 and less of L2; rho of IEC 60889. The coil is of thin wire, so that its own loss in the
// ring's field does not count.
TEST_CASE("an aluminium ring at the floor takes the current of two coupled turns") {
  const Outside outside("two coupled turns: Maxwell 1873 art. 701, Smythe, IEC 60889");
  const std::string head = R"(
ambient: {temperature: 20 degC}
vessel: {inner_diameter: 190 mm, height: 320 mm}
drive:
  driver: {kind: given_current, current: 10 mA, frequency: 118 kHz}
  coils:
    - {name: lower, height: 40 mm, inner_diameter: 229.8 mm, turns: 14, wire: 0.2 mm, pitch: 2 mm}
)";
  const std::string ring = R"(  conductors:
    - {name: rim, kind: ring, height: 0 mm, diameter: 206 mm, metal: aluminium, section: {diameter: 4 mm}}
)";
  const std::string tags = R"(tags:
  - {name: held, count: 1, receiver: {threshold_flux_density: 18 uT}, hold: {place: [0 mm, 0 mm, 160 mm], axis: uniform}}
flight: {duration: 1 s}
)";
  const Folder folder;
  write(folder / "bare.yaml", head + tags);
  write(folder / "rim.yaml", head + ring + tags);
  for (const char* name : {"bare", "rim"})
    REQUIRE(run(folder, fmt::format("map {0}.yaml --quiet --out {0}", name)).status == 0);
  const store::Reader without(folder / "bare/coil.h5", ""), with_ring(folder / "rim/coil.h5", "");
  const auto change = [&](const char* what) {
    return with_ring.number("/circuit/main", what) - without.number("/circuit/main", what);
  };
  const double a = 0.103, w = 0.002, b = 0.115, omega = 2.0 * pi * 118e3, rho = 28.264e-9;
  const double depth = std::sqrt(2.0 * rho / (omega * mu_0));
  const double L2 = mu_0 * a * (std::log(8.0 * a / w) - 2.0 + 0.5 * depth / w);
  const double R2 = rho * a / (w * depth) * (1.0 + 0.5 * depth / w);
  double M = 0.0;
  for (int turn = 0; turn < turns; ++turn) {
    const double d = 0.04 + pitch * (turn - 0.5 * (turns - 1));
    const double k = std::sqrt(4.0 * a * b / ((a + b) * (a + b) + d * d));
    M += mu_0 * std::sqrt(a * b) *
         ((2.0 / k - k) * boost::math::ellint_1(k) - 2.0 / k * boost::math::ellint_2(k));
  }
  const double square = omega * omega * M * M / (R2 * R2 + omega * omega * L2 * L2);
  outside.matches("inductance that a ring takes off [H]", change("L"), -square * L2, 0.005);
  outside.matches("resistance that a ring adds [ohm]", change("R"), square * R2, 0.015);

  // The field per ampere at a node near the axis: the coil's less what the ring's current -j omega M/Z2
  // makes.
  const auto x = with_ring.read<double>("/axes/x", 1).values, y = with_ring.read<double>("/axes/y", 1).values;
  const auto z = with_ring.read<double>("/axes/z", 1).values;
  const std::size_t i = x.size() / 2, j = y.size() / 2, node = (i * y.size() + j) * z.size();
  const Vec3<double> p{x[i], y[j], z[0]};
  const auto current = -std::complex<double>(0.0, omega * M) / std::complex<double>(R2, omega * L2);
  const double own = coil_field({0.0, 0.0, 0.04}, z_axis, x_axis, 0.229, p).z;
  const double metal = biot_savart({0.0, 0.0, 0.0}, z_axis, x_axis, a, p).z;
  outside.matches("field beside a ring in coil.h5, in phase [T/A]",
                  with_ring.read<double>("/circuit/main/B_z", 3).values[node], own + current.real() * metal,
                  0.005);
  outside.matches("field beside a ring in coil.h5, lagging [T/A]",
                  with_ring.read<double>("/circuit/main/B_z_lagging", 3).values[node],
                  -current.imag() * metal, 0.015);
}

// A circuit that cannot be locked is refused with the capacitor that would tune it; with that one it flies.
TEST_CASE("a circuit off the first one's frequency says what would tune it") {
  const Folder folder;
  const std::string driver = "kind: voltage_fed_series, supply: 24 V, bridge: full, capacitor: 12 nF";
  write(folder / "off.yaml", crossed(driver, "", ", phase: 90 deg", 18e-6));
  const auto refused = run(folder, "map off.yaml --quiet --out out");
  CHECK(refused.status == 2);
  // File, line and key first.
  CHECK(refused.err.find("off.yaml:7:7: drive.circuits[2]: the circuit `across` resonates at") !=
        std::string::npos);
  const std::string before = "would have to be ";
  const auto place = refused.err.find(before);
  REQUIRE(place != std::string::npos);
  const std::string capacitor = refused.err.substr(place + before.size(), 8);
  CHECK_FALSE(std::filesystem::exists(folder / "out/coil.h5"));
  const std::string wanted = capacitor.substr(0, capacitor.find("nF") + 2);
  write(folder / "tuned.yaml", crossed(driver, "", ", phase: 90 deg, capacitor: " + wanted, 18e-6));
  REQUIRE(run(folder, "map tuned.yaml --quiet --out out").status == 0);
  const store::Reader file(folder / "out/coil.h5", "");
  CHECK(file.number("/circuit/across", "frequency") == file.number("/circuit/upright", "frequency"));
  // On resonance a full bridge drives 4 V_s/(pi R) of peak current, R with two closed switches of 50 mohm and
  // the capacitor's loss of 0.05 % of its reactance; the capacitor is given to four digits, so that the
  // second circuit is off by up to 5e-5, a hundredth of its bandwidth.
  for (const char* name : {"/circuit/upright", "/circuit/across"}) {
    const double L = file.number(name, "L"), omega = 2.0 * pi * file.number(name, "frequency");
    const double R = file.number(name, "R") + 0.1 + 5e-4 * omega * L;
    CHECK(file.number(name, "current_peak") == relative(4.0 * 24.0 / pi / R, 2e-3));
  }
}

// Two equal coils in parallel and far apart have half the inductance of one, and the terminals' current
// splits.
TEST_CASE("a parallel circuit has half the inductance of one of its equal coils") {
  const Outside outside("two equal coils in parallel");
  const std::string text = R"(
vessel: {inner_diameter: 190 mm, height: 2000 mm}
drive:
  driver: {kind: given_current, current: 10 mA, frequency: 118 kHz}
  circuits: [{name: main, connection: parallel}]
  coils:
    - {name: lower, height: 200 mm, inner_diameter: 200 mm, turns: 14, wire: 1 mm, pitch: 2 mm}
    - {name: upper, height: 1800 mm, inner_diameter: 200 mm, turns: 14, wire: 1 mm, pitch: 2 mm}
tags:
  - {name: held, count: 1, receiver: {threshold_flux_density: 18 uT}, hold: {place: [0 mm, 0 mm, 200 mm], axis: uniform}}
flight: {duration: 1 s}
)";
  const Folder folder;
  write(folder / "two.yaml", text);
  const std::string upper =
      "    - {name: upper, height: 1800 mm, inner_diameter: 200 mm, turns: 14, wire: 1 mm, pitch: 2 mm}\n";
  write(folder / "one.yaml", with(with(text, upper, ""), "parallel", "series"));
  for (const char* name : {"one", "two"})
    REQUIRE(run(folder, fmt::format("map {0}.yaml --quiet --out {0}", name)).status == 0);
  const store::Reader one(folder / "one/coil.h5", ""), two(folder / "two/coil.h5", "");
  // Coupling of coils eight diameters apart: about (a/d)^3 = 2e-4.
  for (const char* what : {"L", "R"})
    outside.matches("L and R of parallel coils [H or ohm]", two.number("/circuit/main", what),
                    0.5 * one.number("/circuit/main", what), 2e-3);
}

namespace {

std::string loaded(const std::string& driver) {
  return fmt::format(R"(
vessel: {{inner_diameter: 190 mm, height: 320 mm}}
drive:
  driver: {{{}}}
  coils:
    - {{name: lower, height: 80 mm, inner_diameter: 200 mm, turns: 10, wire: 1 mm, pitch: 1.5 mm}}
    - {{name: upper, height: 240 mm, inner_diameter: 200 mm, turns: 10, wire: 1 mm, pitch: 1.5 mm}}
air: {{flow_rate: 0.07 m3/s}}
tags:
  - {{name: held, count: 10, receiver: {{threshold_flux_density: 18 uT}}, hold: {{place: [0 mm, 0 mm, 160 mm], axis: uniform}}}}
  - name: load
    count: 24
    body: {{radius: 18 mm, mass: 0.485 g}}
    receiver: {{inner_diameter: 30 mm, turns: 23, layers: 3, wire: 0.125 mm, capacitor: 47 nF, threshold_current: 0.2 mA}}
    fits: [yellow-green]
flight: {{duration: 20 s, warmup: 0 s, replicates: 16, seed: 5}}
)",
                     driver);
}

}  // namespace

// Uniform directions in a field of peak B: duty 1 - B_on/B (model.md section 7). What the field has become
// under the tags' load is read off a tag that does not load it.
TEST_CASE("tags lower the field of a bridge drive in flight by what the sheet says") {
  const Outside outside("closed form 1 - B_on/B, model.md section 7.1");
  const Folder folder;
  const auto text = loaded("kind: voltage_fed_series, bridge: half, supply: 1.2 V, capacitor: 20 nF");
  write(folder / "loaded.yaml", text);
  const auto sheet = nlohmann::json::parse(run(folder, "sheet loaded.yaml --json --quiet").out);
  const auto& draw = sheet["drive"]["tag_draw"];
  const double fall = draw["lit"]["current_peak"].get<double>() / draw["empty"]["current_peak"].get<double>();
  CHECK(fall < 0.98);
  const double B = sheet["field"]["centre_peak"].get<double>();
  const auto duty = fly(folder, text)["tag_designs"][0]["fits"][0]["duty"];
  const double error = duty["standard_error"].get<double>();
  outside.near("duty in the field that tags have lowered", duty["mean"].get<double>(),
               (1.0 - 18e-6 / (B * fall)), 4.0 * error + 1e-4);
  // A drive that knows nothing of the tags would show more.
  CHECK(std::fabs(duty["mean"].get<double>() - (1.0 - 18e-6 / B)) > 20.0 * error);
}

TEST_CASE("tags raise the supply current of a push-pull drive and leave its coil current") {
  const Outside outside("conservation of energy");
  const Folder folder;
  write(folder / "loaded.yaml",
        loaded("kind: current_fed_push_pull, supply: 14 V, drop: 0.7 V, capacitor: 20 nF"));
  const auto sheet = nlohmann::json::parse(run(folder, "sheet loaded.yaml --json --quiet").out);
  const auto& draw = sheet["drive"]["tag_draw"];
  const auto of = [&](const char* tags, const char* what) { return draw[tags][what].get<double>(); };
  // Energy: the supply gives the tags' power over the share that the drop leaves.
  outside.matches("supply power that tags take [W]", of("lit", "supply_power") - of("empty", "supply_power"),
                  of("lit", "tag_power") * 14.0 / 13.3, 0.05);
  CHECK(of("lit", "supply_current") > 1.05 * of("empty", "supply_current"));
  CHECK(of("lit", "current_peak") == relative(of("empty", "current_peak"), 3e-3));
}
