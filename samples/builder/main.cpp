// setwright-samples OUT_DIR [--lump]: writes the sample weldments as STEP files; with --lump also each as one
// multi-body product.

#include <Message.hxx>
#include <Message_Messenger.hxx>
#include <Standard_Failure.hxx>
#include <exception>
#include <filesystem>
#include <iostream>
#include <string>
#include <vector>

#include "step_file.h"

int main(int argc, char** argv) {
    using namespace setwright::samples;
    const std::vector<std::string> arguments(argv + 1, argv + argc);
    std::string out_dir;
    bool lump = false;
    bool understood = true;
    for (const std::string& argument : arguments) {
        if (argument == "--lump") {
            lump = true;
        } else if (out_dir.empty() && !argument.starts_with("-")) {
            out_dir = argument;
        } else {
            understood = false;
        }
    }
    if (!understood || out_dir.empty()) {
        std::cerr << "usage: setwright-samples OUT_DIR [--lump]\n";
        return 2;
    }
    Message::DefaultMessenger()->ChangePrinters().Clear();
    try {
        const std::filesystem::path folder(out_dir);
        std::filesystem::create_directories(folder);
        for (const WeldmentModel& model : allModels()) {
            writeStepFile(model, Layout::Assembly, folder / (model.key + ".step"));
            if (lump) {
                writeStepFile(model, Layout::Lump, folder / (model.key + "_lump.step"));
            }
        }
    } catch (const Standard_Failure& failure) {  // not a std::exception in OCCT 7.6
        std::cerr << "setwright-samples: " << failure.GetMessageString() << '\n';
        return 3;
    } catch (const std::exception& error) {
        std::cerr << "setwright-samples: " << error.what() << '\n';
        return 2;
    }
    return 0;
}
