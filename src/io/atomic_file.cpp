#include "sheetloupe/io/atomic_file.h"

#include <fcntl.h>
#include <sys/stat.h>
#include <unistd.h>

#include <cerrno>
#include <chrono>
#include <cstring>
#include <fstream>
#include <memory>
#include <system_error>

#include "sheetloupe/errors.h"
#include "sheetloupe/side_by_side.h"

namespace sheetloupe {
namespace {

namespace fs = std::filesystem;

[[noreturn]] void fail_to_write(const fs::path& path, int error) {
  const bool full = error == ENOSPC || error == EDQUOT;
  throw InputError({full ? "the disk is full" : "cannot be written", path.string(), std::strerror(error), "",
                    full ? "Free some space and run the command again; nothing was half-written"
                         : "Choose another folder with --out, or allow writing there"});
}

// It cannot be read without being set, which other threads would notice: once.
mode_t mask_at_start() {
  static const mode_t mask = [] {
    const mode_t found = umask(0);
    umask(found);
    return found;
  }();
  return mask;
}

// A file beside its final place that is removed unless it was renamed.
class Draft {
 public:
  explicit Draft(const fs::path& path) : path_(path) {
    std::string name = (path.parent_path() / ("." + path.filename().string() + ".draft-XXXXXX")).string();
    descriptor_ = mkostemp(name.data(), O_CLOEXEC);
    if (descriptor_ < 0) fail_to_write(path, errno);
    draft_ = name;
  }
  Draft(const Draft&) = delete;
  Draft& operator=(const Draft&) = delete;
  ~Draft() {
    if (descriptor_ >= 0) close(descriptor_);
    if (!draft_.empty()) unlink(draft_.c_str());
  }

  void write(std::string_view bytes) {
    while (!bytes.empty()) {
      const ssize_t written = ::write(descriptor_, bytes.data(), bytes.size());
      if (written < 0 && errno == EINTR) continue;
      if (written < 0) fail_to_write(path_, errno);
      bytes.remove_prefix(static_cast<std::size_t>(written));
    }
  }

  // On disk under its draft name.
  void flush() {
    if (fchmod(descriptor_, 0666 & ~mask_at_start()) != 0 || fsync(descriptor_) != 0) fail_to_write(path_, errno);
    const int closed = close(descriptor_);
    descriptor_ = -1;
    if (closed != 0) fail_to_write(path_, errno);
  }

  void keep() {
    if (std::rename(draft_.c_str(), path_.c_str()) != 0) fail_to_write(path_, errno);
    draft_.clear();
  }

 private:
  fs::path path_;
  std::string draft_;
  int descriptor_ = -1;
};

void make_folder(const fs::path& folder) {
  std::error_code error;
  if (!folder.empty()) fs::create_directories(folder, error);
  if (error) fail_to_write(folder, error.value());
}

// A run that was killed leaves its drafts behind: those an hour old belong to nobody any more.
void sweep_old_drafts(const fs::path& path) {
  constexpr auto kAbandoned = std::chrono::hours(1);
  const std::string begin = "." + path.filename().string() + ".draft-";
  std::error_code error;
  std::vector<fs::path> old;
  for (const auto& entry : fs::directory_iterator(path.parent_path().empty() ? "." : path.parent_path(), error)) {
    const std::string name = entry.path().filename().string();
    const bool draft = name.size() == begin.size() + 6 && name.starts_with(begin);
    if (draft && fs::file_time_type::clock::now() - entry.last_write_time(error) > kAbandoned && !error)
      old.push_back(entry.path());
  }
  for (const fs::path& draft : old) fs::remove(draft, error);
}

fs::path mark_of(const fs::path& folder) { return folder / ".unfinished"; }

}  // namespace

void write_file(const fs::path& path, std::string_view bytes) {
  make_folder(path.parent_path());
  sweep_old_drafts(path);
  Draft draft(path);
  draft.write(bytes);
  draft.flush();
  draft.keep();
}

void write_files(const std::vector<FileDraft>& files, const std::function<void()>& then) {
  constexpr unsigned kAtOnce = 4;  // more than the usual cores: most of the time is the disk's
  std::vector<std::unique_ptr<Draft>> drafts(files.size());
  const auto write_draft = [&](std::size_t i) {
    make_folder(files[i].path.parent_path());
    sweep_old_drafts(files[i].path);
    drafts[i] = std::make_unique<Draft>(files[i].path);
    drafts[i]->write(files[i].bytes);
    drafts[i]->flush();
  };
  side_by_side(files.size(), write_draft, kAtOnce);
  if (drafts.empty()) return;
  const fs::path mark = mark_of(files.back().path.parent_path());
  write_file(mark, "Files here are being put in place. Where no run is at work, one was killed: inspect again.\n");
  for (const auto& draft : drafts) draft->keep();
  if (then) then();
  if (unlink(mark.c_str()) != 0 && errno != ENOENT) fail_to_write(mark, errno);  // another run's end takes it away too
}

bool is_unfinished(const fs::path& folder) { return fs::exists(mark_of(folder)); }

void require_finished(const fs::path& folder) {
  if (!is_unfinished(folder)) return;
  throw InputError({"a run was killed while it put its files in place", folder.string(),
                    "files of two runs side by side", "files of one inspection",
                    "Run sheetloupe inspect for this sheet again"});
}

void require_writable(const fs::path& folder) {
  make_folder(folder);
  const Draft probe(folder / "probe");
}

std::string read_file(const fs::path& path, std::size_t limit_bytes) {
  std::error_code error;
  const auto status = fs::status(path, error);
  if (!fs::exists(status)) throw InputError({"no such file", path.string(), "", "", "Check the name"});
  if (!fs::is_regular_file(status)) throw InputError({"not a file", path.string(), "a folder or device", "a file", ""});
  const auto size = fs::file_size(path, error);
  if (!error && size > limit_bytes) {
    throw InputError({"the file is too large", path.string(), std::to_string(size) + " bytes",
                      "at most " + std::to_string(limit_bytes) + " bytes", ""});
  }
  std::ifstream stream(path, std::ios::binary);
  if (!stream || error)
    throw InputError({"cannot be read", path.string(), std::strerror(errno), "", "Allow reading it"});
  // In one go; what another program adds meanwhile belongs to a later reading.
  std::string bytes(static_cast<std::size_t>(size), '\0');
  stream.read(bytes.data(), static_cast<std::streamsize>(size));
  bytes.resize(static_cast<std::size_t>(stream.gcount()));
  return bytes;
}

}  // namespace sheetloupe
