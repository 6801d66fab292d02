#include "tests/fuzz/targets.hpp"

#include <fstream>
#include <stdexcept>

#include "models/error.hpp"
#include "tests/store/folder.hpp"

namespace driftglow::fuzz {

std::span<const Target> targets() {
  static constexpr Target all[] = {{"scenario", scenario_target}, {"readings", readings_target},
                                   {"study", study_target},       {"air_csv", air_csv_target},
                                   {"air_hdf5", air_hdf5_target}, {"coil_map", coil_map_target},
                                   {"air_map", air_map_target},   {"flight", flight_target}};
  return all;
}

Outcome read_or_refused(const std::string& about, const std::function<void()>& action) {
  try {
    action();
    return Outcome::read;
  } catch (const InputError& error) {
    const std::string text = error.what();
    if (text.empty()) throw std::logic_error("a refusal without a sentence");
    for (std::size_t start = 0; start <= text.size();) {
      const auto end = std::min(text.find('\n', start), text.size());
      const std::string line = text.substr(start, end - start);
      if (!line.starts_with(about))
        throw std::logic_error("a line that does not begin with the file: " + line);
      for (const char c : line) {
        if (static_cast<unsigned char>(c) < 0x20 || c == 0x7f)
          throw std::logic_error("a refusal with control characters: " + line);
      }
      start = end + 1;
    }
    return Outcome::refused;
  }
}

const std::filesystem::path& scratch() {
  static const store::Folder folder;
  return folder.path();
}

void write_file(const std::filesystem::path& path, Bytes bytes) {
  std::ofstream file(path, std::ios::binary);
  file.write(reinterpret_cast<const char*>(bytes.data()), static_cast<std::streamsize>(bytes.size()));
  if (!file.flush()) throw std::runtime_error("no room for " + path.string());
}

}  // namespace driftglow::fuzz
