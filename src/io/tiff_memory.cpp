#include "io/tiff_memory.h"

#include <algorithm>
#include <utility>

namespace sheetloupe {
namespace {

TiffMemory& memory(thandle_t self) { return *static_cast<TiffMemory*>(self); }

}  // namespace

tmsize_t TiffMemory::read(thandle_t self, void* to, tmsize_t count) {
  TiffMemory& file = memory(self);
  if (file.at_ >= file.bytes_.size()) return 0;
  const std::size_t n = file.bytes_.copy(static_cast<char*>(to), static_cast<std::size_t>(count), file.at_);
  file.at_ += n;
  return static_cast<tmsize_t>(n);
}

tmsize_t TiffMemory::write(thandle_t self, void* from, tmsize_t count) {
  TiffMemory& file = memory(self);
  const auto n = static_cast<std::size_t>(count);
  file.bytes_.resize(std::max(file.bytes_.size(), file.at_ + n));
  std::copy_n(static_cast<const char*>(from), n, file.bytes_.begin() + static_cast<std::ptrdiff_t>(file.at_));
  file.at_ += n;
  return count;
}

toff_t TiffMemory::seek(thandle_t self, toff_t by, int from) {
  TiffMemory& file = memory(self);
  const toff_t start = from == SEEK_SET ? 0 : from == SEEK_CUR ? file.at_ : file.bytes_.size();
  return file.at_ = start + by;
}

TIFF* TiffMemory::open() {
  TIFFSetErrorHandler(nullptr);
  TIFFSetWarningHandler(nullptr);
  // Little-endian when written; no mapping into memory, where it is already.
  return TIFFClientOpen(
      "memory", bytes_.empty() ? "wl" : "rm", this, read, write, seek, [](thandle_t) { return 0; },
      [](thandle_t self) { return static_cast<toff_t>(memory(self).bytes_.size()); },
      [](thandle_t, void**, toff_t*) { return 0; }, [](thandle_t, void*, toff_t) {});
}

TiffMemory::TiffMemory(std::string bytes) : bytes_(std::move(bytes)), tiff_(open(), &TIFFClose) {}

std::string TiffMemory::finish() {
  tiff_.reset();
  return std::move(bytes_);
}

}  // namespace sheetloupe
