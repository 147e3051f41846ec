#include "defects/net_runner.h"

#include <dnnl.hpp>
#include <map>
#include <opencv2/dnn/all_layers.hpp>
#include <string>
#include <unordered_map>

#include "sheetloupe/errors.h"

// OpenMP's own, by which oneDNN runs; only GCC's folders hold the header.
extern "C" {
int omp_get_max_threads();
void omp_set_num_threads(int count);
}

namespace sheetloupe::defects {

void refuse_net(const char* what) {
  throw InputError({"trained net cannot be used", std::string("models/") + what + ".onnx", "",
                    "the ONNX model that came with the program", "put the file back, or remove it to decide without"});
}

cv::dnn::Net load_net(const std::vector<unsigned char>& onnx, const char* what) {
  try {
    return cv::dnn::readNetFromONNX(onnx);
  } catch (const cv::Exception&) {
    refuse_net(what);
  }
}

namespace {

using dnnl::memory;
using Dims = memory::dims;

memory::desc laid_out(const Dims& dims, memory::format_tag tag) { return {dims, memory::data_type::f32, tag}; }
// Whatever order of the numbers suits the machine.
memory::desc any(const Dims& dims) { return laid_out(dims, memory::format_tag::any); }

// The photos' faces and their parts are measured side by side already.
class OneThread {
 public:
  OneThread() : before_(omp_get_max_threads()) { omp_set_num_threads(1); }
  ~OneThread() { omp_set_num_threads(before_); }
  OneThread(const OneThread&) = delete;
  OneThread& operator=(const OneThread&) = delete;

 private:
  int before_;
};

Dims dims_of(const cv::Mat& blob) { return {blob.size.p, blob.size.p + blob.dims}; }

// Memory for what the steps make, given to a later step as soon as nothing reads it any more: a net's last steps then
// write where its first ones wrote, half of the memory and all of it warm.
class Pieces {
 public:
  explicit Pieces(const dnnl::engine& engine) : engine_(engine) {}

  memory take(const memory::desc& order) {
    Piece* best = nullptr;
    for (Piece& piece : pieces_) {
      if (piece.taken || piece.size() < order.get_size()) continue;
      if (!best || piece.size() < best->size()) best = &piece;
    }
    if (!best) best = &pieces_.emplace_back(Piece{memory(order, engine_)});
    best->taken = true;
    return {order, engine_, best->own.get_data_handle()};
  }

  void give_back(const memory& numbers) {
    for (Piece& piece : pieces_) {
      if (piece.own.get_data_handle() == numbers.get_data_handle()) piece.taken = false;
    }
  }

 private:
  struct Piece {
    memory own;
    bool taken = false;
    std::size_t size() const { return own.get_desc().get_size(); }
  };
  dnnl::engine engine_;
  std::vector<Piece> pieces_;
};

// A ReLU is done along with the layer before it, and a dense layer takes its planes as they are.
bool is_no_step(const cv::dnn::Layer& layer) {
  return layer.type == "ReLU" || layer.type == "Flatten" || layer.type == "Identity";
}

// The net's layers in the order of their work, the input first: which earlier ones each reads.
struct Order {
  std::vector<cv::Ptr<cv::dnn::Layer>> layers;
  std::vector<std::vector<std::size_t>> reads;

  explicit Order(cv::dnn::Net& net) : layers{net.getLayer(0)}, reads(1) {
    std::map<const cv::dnn::Layer*, std::size_t> place = {{layers[0].get(), 0}};
    for (const cv::String& name : net.getLayerNames()) {
      const int id = net.getLayerId(name);
      reads.emplace_back();
      for (const cv::Ptr<cv::dnn::Layer>& before : net.getLayerInputs(id))
        reads.back().push_back(place.at(before.get()));
      place[net.getLayer(id).get()] = layers.size();
      layers.push_back(net.getLayer(id));
    }
  }

  // Of every layer the last one that reads what it made, through layers that are no steps; the net's end for the last.
  std::vector<std::size_t> last_readers() const {
    std::vector<std::size_t> maker(layers.size()), last(layers.size(), layers.size());
    for (std::size_t i = 1; i < layers.size(); ++i) {
      maker[i] = is_no_step(*layers[i]) ? maker[reads[i].at(0)] : i;
      for (const std::size_t read : reads[i]) last[maker[read]] = i;
    }
    last[maker.back()] = layers.size();
    return last;
  }
};

}  // namespace

// The layers as oneDNN's steps.
struct NetRunner::Plan {
  dnnl::engine engine{dnnl::engine::kind::cpu, 0};
  dnnl::stream stream{engine};
  std::vector<std::pair<dnnl::primitive, std::unordered_map<int, memory>>> steps;
  Pieces pieces{engine};
  memory in, out;  // the input has a place of its own, so that it stays as it was filled

  Plan(cv::dnn::Net& net, const Shape& shape) {
    const OneThread here;
    in = memory(laid_out({shape.begin(), shape.end()}, memory::format_tag::nchw), engine);
    std::fill_n(static_cast<float*>(in.get_data_handle()), in.get_desc().get_size() / sizeof(float), 0.F);
    const Order order(net);
    const std::vector<std::size_t> last_reader = order.last_readers();
    std::vector<memory> made = {in};
    for (std::size_t i = 1; i < order.layers.size(); ++i) {
      std::vector<memory> from;
      for (const std::size_t read : order.reads[i]) from.push_back(made.at(read));
      const bool relu = i + 1 < order.layers.size() && order.layers[i + 1]->type == "ReLU";
      made.push_back(is_no_step(*order.layers[i]) ? from.at(0) : step(*order.layers[i], from, relu));
      for (std::size_t k = 1; k <= i; ++k) {
        if (last_reader[k] == i) pieces.give_back(made[k]);
      }
    }
    out = made.back();
    const Dims dims = out.get_desc().dims();
    out = moved(out, laid_out(dims, dims.size() == 4 ? memory::format_tag::nchw : memory::format_tag::ab));
  }

  memory step(const cv::dnn::Layer& layer, const std::vector<memory>& from, bool relu) {
    if (layer.type == "Convolution")
      return convolution(dynamic_cast<const cv::dnn::BaseConvolutionLayer&>(layer), from.at(0), relu);
    if (layer.type == "Deconvolution")
      return enlarged(dynamic_cast<const cv::dnn::BaseConvolutionLayer&>(layer), from.at(0), relu);
    if (layer.type == "InnerProduct") return dense(layer, from.at(0), relu);
    if (layer.type == "Pooling") return pooled(dynamic_cast<const cv::dnn::PoolingLayer&>(layer), from.at(0));
    if (layer.type == "Eltwise") return sum(from.at(0), from.at(1));
    throw cv::Exception(cv::Error::StsNotImplemented, layer.type, __func__, __FILE__, __LINE__);
  }

  static dnnl::primitive_attr ending(bool relu) {
    dnnl::primitive_attr attributes;
    if (!relu) return attributes;
    dnnl::post_ops ops;
    ops.append_eltwise(1.F, dnnl::algorithm::eltwise_relu, 0.F, 0.F);
    attributes.set_post_ops(ops);
    return attributes;
  }

  // The same numbers in another order, put there whenever the net runs.
  memory moved(const memory& numbers, const memory::desc& order) {
    if (numbers.get_desc() == order) return numbers;
    memory to = pieces.take(order);
    steps.push_back({dnnl::reorder(numbers, to), {{DNNL_ARG_FROM, numbers}, {DNNL_ARG_TO, to}}});
    return to;
  }

  void give_back_unless(const memory& given, const memory& reordered) {
    if (reordered.get_data_handle() != given.get_data_handle()) pieces.give_back(reordered);
  }

  // Weights are put in order once.
  memory weights(const cv::Mat& blob, const memory::desc& given, const memory::desc& order) {
    memory from(given, engine), to(order, engine);
    if (given.get_size() != blob.total() * sizeof(float)) throw dnnl::error(dnnl_invalid_arguments, "weights");
    std::copy_n(blob.ptr<float>(), blob.total(), static_cast<float*>(from.get_data_handle()));
    dnnl::reorder(from, to).execute(stream, from, to);
    stream.wait();
    return to;
  }

  // A layer of weights and biases.
  template <typename Primitive, typename Description>
  memory weighted(const Description& description, const cv::dnn::Layer& layer, const memory::desc& given_weights,
                  const memory& from, bool relu) {
    const typename Primitive::primitive_desc chosen(description, ending(relu), engine);
    memory to = pieces.take(chosen.dst_desc());
    const Dims biases = {static_cast<memory::dim>(layer.blobs[1].total())};
    const memory source = moved(from, chosen.src_desc());
    steps.push_back(
        {Primitive(chosen),
         {{DNNL_ARG_SRC, source},
          {DNNL_ARG_WEIGHTS, weights(layer.blobs[0], given_weights, chosen.weights_desc())},
          {DNNL_ARG_BIAS, weights(layer.blobs[1], laid_out(biases, memory::format_tag::a), chosen.bias_desc())},
          {DNNL_ARG_DST, to}}});
    give_back_unless(from, source);
    return to;
  }

  memory convolution(const cv::dnn::BaseConvolutionLayer& layer, const memory& from, bool relu) {
    const Dims size = from.get_desc().dims(), kernel = dims_of(layer.blobs.at(0)),
               strides(layer.strides.begin(), layer.strides.end()),
               before(layer.pads_begin.begin(), layer.pads_begin.end()),
               after(layer.pads_end.begin(), layer.pads_end.end());
    const auto length = [&](int k) { return (size[2 + k] + before[k] + after[k] - kernel[2 + k]) / strides[k] + 1; };
    const dnnl::convolution_forward::desc description(
        dnnl::prop_kind::forward_inference, dnnl::algorithm::convolution_direct, any(size), any(kernel),
        any({kernel[0]}), any({size[0], kernel[0], length(0), length(1)}), strides, before, after);
    return weighted<dnnl::convolution_forward>(description, layer, laid_out(kernel, memory::format_tag::oihw), from,
                                               relu);
  }

  memory enlarged(const cv::dnn::BaseConvolutionLayer& layer, const memory& from, bool relu) {
    // OpenCV keeps the input planes first.
    const Dims size = from.get_desc().dims(), blob = dims_of(layer.blobs.at(0)),
               kernel = {blob[1], blob[0], blob[2], blob[3]}, strides(layer.strides.begin(), layer.strides.end()),
               none = {0, 0};
    const dnnl::deconvolution_forward::desc description(
        dnnl::prop_kind::forward_inference, dnnl::algorithm::deconvolution_direct, any(size), any(kernel),
        any({kernel[0]}),
        any({size[0], kernel[0], (size[2] - 1) * strides[0] + kernel[2], (size[3] - 1) * strides[1] + kernel[3]}),
        strides, none, none);
    return weighted<dnnl::deconvolution_forward>(description, layer, laid_out(kernel, memory::format_tag::iohw), from,
                                                 relu);
  }

  memory dense(const cv::dnn::Layer& layer, const memory& from, bool relu) {
    const Dims size = from.get_desc().dims();
    const memory::dim outputs = layer.blobs.at(0).size[0];
    Dims kernel = size;
    kernel[0] = outputs;
    const dnnl::inner_product_forward::desc description(dnnl::prop_kind::forward_inference, any(size), any(kernel),
                                                        any({outputs}), any({size[0], outputs}));
    const auto order = kernel.size() == 4 ? memory::format_tag::oihw : memory::format_tag::ab;
    return weighted<dnnl::inner_product_forward>(description, layer, laid_out(kernel, order), from, relu);
  }

  memory pooled(const cv::dnn::PoolingLayer& layer, const memory& from) {
    const Dims size = from.get_desc().dims(), kernel(layer.kernel_size.begin(), layer.kernel_size.end()),
               strides(layer.strides.begin(), layer.strides.end()), none = {0, 0};
    const dnnl::pooling_forward::desc description(
        dnnl::prop_kind::forward_inference, dnnl::algorithm::pooling_max, from.get_desc(),
        any({size[0], size[1], (size[2] - kernel[0]) / strides[0] + 1, (size[3] - kernel[1]) / strides[1] + 1}),
        strides, kernel, none, none);
    const dnnl::pooling_forward::primitive_desc chosen(description, engine);
    memory to = pieces.take(chosen.dst_desc());
    steps.push_back({dnnl::pooling_forward(chosen), {{DNNL_ARG_SRC, from}, {DNNL_ARG_DST, to}}});
    return to;
  }

  memory sum(const memory& a, const memory& b) {
    const memory::desc order = a.get_desc();
    const memory other = moved(b, order);
    memory to = pieces.take(order);
    const dnnl::sum::primitive_desc chosen(order, {1.F, 1.F}, {order, order}, engine);
    steps.push_back(
        {dnnl::sum(chosen), {{DNNL_ARG_MULTIPLE_SRC, a}, {DNNL_ARG_MULTIPLE_SRC + 1, other}, {DNNL_ARG_DST, to}}});
    give_back_unless(b, other);
    return to;
  }
};

namespace {

cv::Mat numbers_of(const memory& numbers) {
  const Dims dims = numbers.get_desc().dims();
  const std::vector<int> sizes(dims.begin(), dims.end());
  return {static_cast<int>(sizes.size()), sizes.data(), CV_32F, numbers.get_data_handle()};
}

}  // namespace

NetRunner::NetRunner(cv::dnn::Net& net, const Shape& shape, const char* what) {
  try {
    plan_ = std::make_unique<Plan>(net, shape);
  } catch (const std::exception&) {  // of oneDNN, OpenCV or a lookup: all say that the net is another one
    refuse_net(what);
  }
}

NetRunner::~NetRunner() = default;
NetRunner::NetRunner(NetRunner&&) noexcept = default;

cv::Mat NetRunner::input() { return numbers_of(plan_->in); }

cv::Mat NetRunner::run() {
  const OneThread here;
  for (const auto& [step, on] : plan_->steps) step.execute(plan_->stream, on);
  plan_->stream.wait();
  return numbers_of(plan_->out);
}

}  // namespace sheetloupe::defects
