#include <cmath>
#include <numeric>
#include <stdexcept>

#include "models/air/gridded.hpp"
#include "sim/maps/air_grid_file.hpp"
#include "sim/maps/stored_maps.hpp"
#include "sim/results/files.hpp"
#include "sim/results/setting.hpp"
#include "sim/store/digest.hpp"
#include "tests/fuzz/altered_file.hpp"
#include "tests/fuzz/targets.hpp"
#include "tests/results/made_up.hpp"
#include "tools/report/csv.hpp"
#include "tools/report/report.hpp"

namespace driftglow::fuzz {
namespace {

const std::string remedy = "remove it and it will be computed again";

store::Origin origin() {
  const std::string text = "title: fuzz\n";
  return {"0", text, store::sha256_hex(text), 7};
}

const store::Run run{"host", "2026-01-02T03:04:05Z", "", 1};

std::vector<double> even(std::size_t count, double last) {
  std::vector<double> values(count);
  for (std::size_t i = 0; i < count; ++i)
    values[i] = last * static_cast<double>(i) / static_cast<double>(count - 1);
  return values;
}

std::vector<double> smooth(std::size_t count) {
  std::vector<double> values(count);
  for (std::size_t i = 0; i < count; ++i) values[i] = 1e-5 * (2.0 + std::sin(0.1 * static_cast<double>(i)));
  return values;
}

// First byte: a damaged file, which has to be refused; else an altered one, of which `read` makes what it
// can.
template <class Read>
void altered_or_damaged(const AlteredFile& base, const char* name, Bytes edits, const Read& read) {
  const auto path = scratch() / name;
  if (!edits.empty() && edits[0] % 16 == 0) {
    base.write_damaged(path, edits.subspan(1));
    if (read_or_refused(path.string(), [&] { store::Reader(path, remedy); }) == Outcome::read)
      throw std::logic_error("a damaged file was taken");
    return;
  }
  base.write(path, edits.empty() ? edits : edits.subspan(1));
  read_or_refused("", [&] { read(path); });
}

void require_finite(double value) {
  if (!std::isfinite(value)) throw std::logic_error("a map was taken that is not finite");
}

std::filesystem::path coaxial_file() {
  const auto path = scratch() / "whole_coil.h5";
  store::Writer file(path, origin());
  file.write("/axes/r", even(5, 0.1), {5}, {"m", "distance from the axis"});
  file.write("/axes/z", even(6, 0.3), {6}, {"m", "height"});
  for (const char* name : {"B_r_over_r", "B_z"})
    file.write(std::string("/circuit/main/") + name, smooth(30), {5, 6}, {"T/A", "field"});
  file.set_number("/check", "interpolation_error", 1e-5, "1");
  file.set_number("/check", "rms_flux_density", 1e-5, "T/A");
  file.commit(run);
  return path;
}

std::filesystem::path volume_file() {
  const auto path = scratch() / "whole_volume.h5";
  store::Writer file(path, origin());
  for (const char* axis : {"/axes/x", "/axes/y", "/axes/z"})
    file.write(axis, even(5, 0.1), {5}, {"m", "place"});
  file.write("/parts/B", smooth(5 * 5 * 5 * 2 * 3), {5, 5, 5, 2, 3}, {"T", "field"});
  file.set_number("/check", "interpolation_error", 1e-5, "1");
  file.set_number("/check", "rms_flux_density", 1e-5, "T");
  file.commit(run);
  return path;
}

void read_coaxial(const std::filesystem::path& path) {
  const auto map = maps::read_coil_map(store::Reader(path, remedy), "main");
  for (const double share : {0.0, 0.37, 1.0}) {
    const auto field = map.field(0.1 * share, 0.3 * share);
    require_finite(field.radial_over_r);
    require_finite(field.axial);
  }
}

void read_volume(const std::filesystem::path& path) {
  const auto map = maps::read_volume_map(store::Reader(path, remedy));
  require_finite(map.field({0.03, 0.04, 0.05}).sum());
}

std::filesystem::path solved_air_file() {
  const auto path = scratch() / "whole_air.h5";
  maps::KeptAir air{};
  air.report.warnings = {"the flow is strange"};
  air.point.loss_pressures = {{"vessel", 12.0}};
  air.report.precession = swirl_flow::Precession{1.0, 0.5, 2.0};
  for (auto* values :
       {&air.nodes.stream_over_s, &air.nodes.turn_rate, &air.nodes.sigma, &air.nodes.epsilon_cbrt})
    *values = Eigen::MatrixXd::Constant(5, 6, 0.01);
  store::Writer file(path, origin());
  maps::write_kept_air(file, air);
  file.commit(run);
  return path;
}

void read_solved(const std::filesystem::path& path) {
  const auto air = maps::read_kept_air(store::Reader(path, remedy));
  const air::AirMap map(0.1, 0.3, air.nodes, air.error);
  const auto sample = map.sample(numeric::Vec3<double>{0.02, 0.03, 0.1});
  require_finite(sample.u_W.x + sample.u_W.y + sample.u_W.z + sample.sigma + sample.epsilon_cbrt);
}

std::filesystem::path grid_file() {
  const auto path = scratch() / "whole_grid.h5";
  store::Writer file(path, origin());
  file.write("/axes/r", even(5, 0.1), {5}, {"m", "distance from the axis"});
  file.write("/axes/z", even(6, 0.3), {6}, {"m", "height"});
  for (const char* name : {"/mean/u_r", "/mean/u_theta", "/mean/u_z", "/turbulence/k", "/turbulence/epsilon"})
    file.write(name, std::vector<double>(30, 0.5), {5, 6}, {"m/s", "air"});
  file.commit(run);
  return path;
}

std::filesystem::path flight_file() {
  const auto path = scratch() / "whole_flight.h5";
  scenario::Scenario scenario{};
  scenario.title = "Jelly";
  scenario.name = "jelly";
  scenario.text = origin().scenario_text;
  scenario.hash = origin().scenario_hash;
  auto campaign = results::made_up_campaign();
  auto& trace = campaign.replicates[0].trace;
  trace.time = {0.0, 0.02, 0.04};
  trace.place.assign(3 * 2 * 3, 0.05F);
  trace.velocity = trace.axis = trace.place;
  trace.linkage.assign(3 * 2, 0.5F);
  trace.lit = {0, 1, 2, 3, 0, 1};
  trace.current.assign(3 * 2 * 2, 0.001F);
  const auto setting = results::made_up_setting();
  results::write_flight(path, results::summarise(setting.outline, campaign), campaign, scenario, &setting,
                        "0", run);
  return path;
}

}  // namespace

void air_hdf5_target(Bytes edits) {
  static const AlteredFile base(grid_file(), AlteredFile::Seal::left_out);
  const auto path = scratch() / "air.h5";
  base.write(path, edits);
  read_or_refused(path.string(), [&] {
    const auto grid = maps::read_air_grid({path.string(), std::nullopt, 0.1, 0.0, std::nullopt}, 0.1, 0.3);
    read_or_refused("", [&] {
      const auto sample = air::project(grid).map.sample(numeric::Vec3<double>{0.02, 0.03, 0.1});
      require_finite(sample.u_W.x + sample.u_W.y + sample.u_W.z);
    });
  });
}

void coil_map_target(Bytes edits) {
  static const AlteredFile coaxial(coaxial_file(), AlteredFile::Seal::put),
      volume(volume_file(), AlteredFile::Seal::put);
  if (!edits.empty() && edits[0] % 2 == 1)
    altered_or_damaged(volume, "volume.h5", edits, read_volume);
  else
    altered_or_damaged(coaxial, "coil.h5", edits, read_coaxial);
}

void air_map_target(Bytes edits) {
  static const AlteredFile base(solved_air_file(), AlteredFile::Seal::put);
  altered_or_damaged(base, "solved.h5", edits, read_solved);
}

// What `driftglow show` does.
void flight_target(Bytes edits) {
  static const AlteredFile base(flight_file(), AlteredFile::Seal::put);
  altered_or_damaged(base, "flight.h5", edits, [](const std::filesystem::path& path) {
    const auto stored = results::read_flight(path);
    const auto summary = results::summarise(stored.setting.outline, stored.campaign);
    if (report::render_report(stored.setting, stored.campaign, stored.origin).empty() ||
        report::chart_tables(stored.setting, summary).empty())
      throw std::logic_error("a report of nothing");
  });
}

}  // namespace driftglow::fuzz
