#include "sim/study/stored_study.hpp"

#include "sim/results/flight_head.hpp"
#include "sim/study/files.hpp"
#include "sim/study/reader.hpp"

namespace driftglow::study {

Study study_of(const store::Reader& file) {
  const auto text = read_study_text(file);
  return parse_study(text.text, text.name + ".yaml", results::stored_scenario(file),
                     results::read_head(file).scenario_name + ".yaml");
}

StoredStudy read_stored_study(const std::filesystem::path& path) {
  const store::Reader file(path, "vary the study again");
  file.expect(!file.has("/part"), "is a part of a study: `driftglow join` makes the report of all parts");
  file.expect(file.has("/designs/coordinates"), "holds no whole study");
  StoredStudy stored{study_of(file), {}, file.origin().program_version};
  auto& table = stored.table;
  const auto coordinates = file.read<double>("/designs/coordinates", 2);
  const std::size_t varied = stored.study.variables.size();
  file.expect(coordinates.extents[1] == varied, "/designs/coordinates has not the study's variables");
  for (std::size_t i = 0; i < coordinates.extents[0]; ++i)
    table.designs.emplace_back(coordinates.values.begin() + i * varied,
                               coordinates.values.begin() + (i + 1) * varied);
  table.range = {0, static_cast<int>(table.designs.size())};
  table.interrupted = results::read_head(file).interrupted;
  for (auto& piece : read_pieces(file, stored.study)) {
    file.expect(piece.design == static_cast<int>(table.results.size()) && piece.first == 0,
                "/pieces are not the designs in order");
    table.results.push_back(std::move(piece.result));
  }
  file.expect(table.results.size() == table.designs.size(), "/pieces are not as many as the designs");
  return stored;
}

}  // namespace driftglow::study
