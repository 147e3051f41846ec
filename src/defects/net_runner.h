// A trained net made ready for pictures of one size: read by OpenCV from ONNX, run by oneDNN on the calling thread.
#pragma once

#include <array>
#include <memory>
#include <opencv2/dnn.hpp>
#include <vector>

namespace sheetloupe::defects {

/// The net in these bytes. `what` names the file in errors. Throws InputError.
cv::dnn::Net load_net(const std::vector<unsigned char>& onnx, const char* what);
[[noreturn]] void refuse_net(const char* what);

/// Runs nets made of convolutions, ReLU, pooling, transposed convolutions, sums and dense layers, in OpenCV's order of
/// the layers. OpenCV's own run takes two to three times as long.
class NetRunner {
 public:
  using Shape = std::array<int, 4>;  // pictures, planes, rows, columns

  /// Throws InputError when the net does not take this shape or holds another kind of layer.
  NetRunner(cv::dnn::Net& net, const Shape& shape, const char* what);
  ~NetRunner();
  NetRunner(NetRunner&&) noexcept;
  NetRunner& operator=(NetRunner&&) = delete;

  /// The input, CV_32F, to be filled in place; zero at first.
  cv::Mat input();
  /// The output of what the input holds now, CV_32F of two or four dimensions; valid until the next run.
  cv::Mat run();

 private:
  struct Plan;
  std::unique_ptr<Plan> plan_;
};

}  // namespace sheetloupe::defects
