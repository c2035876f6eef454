// Writes down what the recogniser itself computes, for check.py: loaded before it (LD_PRELOAD), these stand in front of
// functions of libvosk and call them. SHIM_LIB names the library, SHIM_OUT the file.
#include <dlfcn.h>

#include <cstdio>
#include <cstdlib>

namespace {
// As Kaldi's VectorBase<float> begins.
struct Vector {
  float *data;
  int size;
};
struct Weight {
  int frame;
  float change;
};

template <typename Function>
Function real(const char *name) {
  return reinterpret_cast<Function>(dlsym(dlopen(getenv("SHIM_LIB"), RTLD_NOW | RTLD_NOLOAD), name));
}

void put(int kind, int frame, const float *data, int size) {
  static FILE *out = fopen(getenv("SHIM_OUT"), "wb");
  const int head[] = {kind, frame, size};
  fwrite(head, sizeof head, 1, out);
  fwrite(data, sizeof *data, size, out);
  fflush(out);
}
}  // namespace

#define MFCC _ZN5kaldi24OnlineGenericBaseFeatureINS_12MfccComputerEE8GetFrameEiPNS_10VectorBaseIfEE
#define IVECTOR _ZN5kaldi20OnlineIvectorFeature8GetFrameEiPNS_10VectorBaseIfEE
#define WEIGHTS _ZN5kaldi20OnlineIvectorFeature18UpdateFrameWeightsERKSt6vectorISt4pairIifESaIS3_EE
#define TEXT_(x) #x
#define TEXT(x) TEXT_(x)

extern "C" void MFCC(void *self, int frame, Vector *into) {
  static auto call = real<void (*)(void *, int, Vector *)>(TEXT(MFCC));
  call(self, frame, into);
  put(0, frame, into->data, into->size);
}

extern "C" void IVECTOR(void *self, int frame, Vector *into) {
  static auto call = real<void (*)(void *, int, Vector *)>(TEXT(IVECTOR));
  call(self, frame, into);
  put(1, frame, into->data, into->size);
}

extern "C" void WEIGHTS(void *self, Weight **changes) {
  static auto call = real<void (*)(void *, Weight **)>(TEXT(WEIGHTS));
  for (Weight *change = changes[0]; change < changes[1]; ++change) put(2, change->frame, &change->change, 1);
  call(self, changes);
}
