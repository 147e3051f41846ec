// The program, with every thread in sight of the thread sanitizer: OpenCV's own pool is built without it, so its
// parallel loops run here on plain threads, whose start and end the sanitizer sees.   thread_check WORDS...
#include <algorithm>
#include <iostream>
#include <latch>
#include <memory>
#include <opencv2/core/parallel/parallel_backend.hpp>
#include <opencv2/core/utility.hpp>
#include <string>
#include <thread>
#include <vector>

#include "cli/program.h"

namespace {

thread_local int own_number = 0;

class PlainThreads : public cv::parallel::ParallelForAPI {
 public:
  // All begin together and none ends before the rest are done: OpenCV's locks at a thread's start and end would order
  // one thread's work before another's, and hide from the sanitizer that nothing else does.
  void parallel_for(int tasks, FN_parallel_for_body_cb_t body, void* data) override {
    const int share = (tasks + threads_ - 1) / threads_, count = (tasks + share - 1) / share;
    std::latch begun(count), done(count);
    std::vector<std::jthread> threads;
    for (int number = 0; number < count; ++number) {
      threads.emplace_back([&, number] {
        own_number = number;
        begun.arrive_and_wait();
        body(number * share, std::min(tasks, (number + 1) * share), data);
        done.arrive_and_wait();
      });
    }
  }
  int getThreadNum() const override { return own_number; }
  int getNumThreads() const override { return threads_; }
  int setNumThreads(int count) override {
    const int before = threads_;
    if (count > 0) threads_ = count;
    return before;
  }
  const char* getName() const override { return "plain threads"; }

 private:
  int threads_ = 3;
};

}  // namespace

// What libraries built without the sanitizer do out of its sight: GDAL, which OpenCV registers once among its picture
// formats, takes two locks of its own in both orders while one thread starts it; OpenCV's layer factory makes its lock
// by double-checked locking; Cairo hands freed patterns and contexts from thread to thread by its own atomics; oneDNN
// keeps the lock of its cache in a static variable, whose guard it reads in place.
extern "C" const char* __tsan_default_suppressions() {
  return "deadlock:libgdal.so\nrace:LayerFactory\nrace:libcairo.so\nrace:libdnnl.so\n";
}

int main(int argc, char** argv) {
  cv::parallel::setParallelForBackend(std::make_shared<PlainThreads>(), false);
  std::cerr << "OpenCV's loops run on " << cv::getNumThreads() << " plain threads\n";
  return sheetloupe::cli::run_program({argv + 1, argv + argc}, {std::cout, std::cerr, false});
}
