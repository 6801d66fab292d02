#include "sim/store/atomic_file.hpp"

#include <fcntl.h>
#include <fmt/format.h>
#include <sys/file.h>
#include <sys/stat.h>
#include <unistd.h>

#include <atomic>
#include <cerrno>
#include <regex>
#include <string>
#include <system_error>
#include <vector>

#include "models/error.hpp"

namespace driftglow::store {

namespace {

// A place that cannot be written to is a wrong --out; anything else (no space, quota, input/output error) is
// the machine's.
[[noreturn]] void fail(const std::filesystem::path& path, int error) {
  const std::string reason = std::generic_category().message(error);
  switch (error) {
    case EACCES:
    case EPERM:
    case EROFS:
    case ENOENT:
    case ENOTDIR:
    case EEXIST:
    case EISDIR:
    case ENAMETOOLONG:
    case ELOOP:
      throw InputError(
          fmt::format("{}: cannot be written ({}); name a folder that can be written to with --out",
                      path.string(), reason));
    case ENOSPC:
    case EDQUOT:
    case EFBIG:
      throw LogicError(fmt::format(
          "{}: could not be written whole ({}) and was left as it was; make space and run it again",
          path.string(), reason));
    default:
      throw LogicError(
          fmt::format("{}: could not be written ({}) and was left as it was", path.string(), reason));
  }
}

// A file under a name of its own beside `target`, removed again unless it was renamed to it. `blamed` is the
// path that messages name.
class Temporary {
 public:
  Temporary(const std::filesystem::path& target, const std::filesystem::path& blamed)
      : target_(target), blamed_(blamed) {
    static std::atomic<unsigned> serial{0};
    name_ =
        target.parent_path() / fmt::format(".{}.part-{}-{}", target.filename().string(), getpid(), serial++);
    descriptor_ = open(name_.c_str(), O_WRONLY | O_CREAT | O_EXCL | O_CLOEXEC, 0666);
    if (descriptor_ < 0) fail(blamed_, errno);
  }

  ~Temporary() {
    if (descriptor_ >= 0) close(descriptor_);
    if (!renamed_) unlink(name_.c_str());
  }

  Temporary(const Temporary&) = delete;
  Temporary& operator=(const Temporary&) = delete;

  void write(std::string_view bytes) {
    while (!bytes.empty()) {
      const ssize_t written = ::write(descriptor_, bytes.data(), bytes.size());
      if (written < 0 && errno == EINTR) continue;
      if (written < 0) fail(blamed_, errno);
      bytes.remove_prefix(static_cast<std::size_t>(written));
    }
  }

  void rename_to_target() {
    if (fsync(descriptor_) != 0) fail(blamed_, errno);
    // Network file systems report a full disk only here.
    const int status = close(descriptor_);
    descriptor_ = -1;
    if (status != 0) fail(blamed_, errno);
    if (rename(name_.c_str(), target_.c_str()) != 0) fail(blamed_, errno);
    renamed_ = true;
  }

 private:
  std::filesystem::path target_;
  std::filesystem::path blamed_;
  std::filesystem::path name_;
  int descriptor_ = -1;
  bool renamed_ = false;
};

std::filesystem::path folder_of(const std::filesystem::path& path) {
  return path.has_parent_path() ? path.parent_path() : std::filesystem::path(".");
}

void make_folder(const std::filesystem::path& folder) {
  std::error_code error;
  std::filesystem::create_directories(folder, error);
  if (error) fail(folder, error.value());
}

// The new name itself must reach the disk; file systems that cannot sync a folder are left to their own care.
void sync_folder(const std::filesystem::path& folder) {
  const int descriptor = open(folder.c_str(), O_RDONLY | O_DIRECTORY | O_CLOEXEC);
  if (descriptor < 0) return;
  fsync(descriptor);
  close(descriptor);
}

}  // namespace

void ensure_writable_folder(const std::filesystem::path& folder) {
  make_folder(folder);
  Temporary(folder / "probe", folder);
}

void write_text_atomically(const std::filesystem::path& path, std::string_view text) {
  const std::filesystem::path folder = folder_of(path);
  make_folder(folder);
  Temporary file(path, path);
  file.write(text);
  file.rename_to_target();
  sync_folder(folder);
}

void remove_stale_temporaries(const std::filesystem::path& folder) {
  static const std::regex temporary(R"(\..+\.part-[0-9]+-[0-9]+)");
  std::error_code ignored;
  std::vector<std::filesystem::path> stale;
  for (const auto& entry : std::filesystem::directory_iterator(folder, ignored)) {
    if (std::regex_match(entry.path().filename().string(), temporary)) stale.push_back(entry.path());
  }
  for (const auto& file : stale) std::filesystem::remove(file, ignored);
}

FolderLock::FolderLock(const std::filesystem::path& folder)
    : descriptor_(open(folder.c_str(), O_RDONLY | O_DIRECTORY | O_CLOEXEC)) {
  if (descriptor_ < 0) fail(folder, errno);
  if (flock(descriptor_, LOCK_EX | LOCK_NB) == 0 || errno != EWOULDBLOCK) return;
  close(descriptor_);
  throw InputError(
      fmt::format("{}: another run of driftglow is writing to this folder; wait for its end, or name another "
                  "folder with --out",
                  folder.string()));
}

FolderLock::~FolderLock() {
  close(descriptor_);
}

}  // namespace driftglow::store
