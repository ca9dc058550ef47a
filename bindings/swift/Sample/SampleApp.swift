// One screen: begin listening, take a photo, see the hazards and what is missing, as they stand.
// NOT BUILT where this was written: it needs a Mac.
import Scupper
import SwiftUI

@main
struct SampleApp: App {
    @StateObject private var day = Day.shared
    @State private var camera = false
    @State private var about: String?
    private let ears = Ears()

    var body: some Scene {
        WindowGroup {
            List {
                Section("Walk") {
                    Button("Listen") {
                        ears.photoWanted = { about = $0; camera = true }
                        ears.begin()
                    }
                    Button("Photo") { about = nil; camera = true }
                    Button("Done") { ears.end() }
                }
                // None listed does not mean that a place is safe.
                Section("Hazards") { ForEach(day.hazards, id: \.self) { Text($0) } }
                Section("Missing") { ForEach(day.missing, id: \.self) { Text($0) } }
                if let problem = day.problem { Text(problem) }
            }
            .onAppear { day.begin() }
            .sheet(isPresented: $camera) { Camera(about: about) }
        }
    }
}

/// The system's camera; the picture goes to the survey as a file.
struct Camera: UIViewControllerRepresentable {
    let about: String?
    @Environment(\.dismiss) private var dismiss

    func makeUIViewController(context: Context) -> UIImagePickerController {
        let picker = UIImagePickerController()
        picker.sourceType = .camera
        picker.delegate = context.coordinator
        return picker
    }

    func updateUIViewController(_ picker: UIImagePickerController, context: Context) {}
    func makeCoordinator() -> Taken { Taken(about: about, dismiss: { dismiss() }) }

    final class Taken: NSObject, UIImagePickerControllerDelegate, UINavigationControllerDelegate {
        private let about: String?
        private let dismiss: () -> Void

        init(about: String?, dismiss: @escaping () -> Void) {
            self.about = about
            self.dismiss = dismiss
        }

        func imagePickerController(
            _ picker: UIImagePickerController,
            didFinishPickingMediaWithInfo info: [UIImagePickerController.InfoKey: Any]
        ) {
            dismiss()
            let file = FileManager.default.temporaryDirectory.appendingPathComponent("\(UUID().uuidString).jpg")
            guard let image = info[.originalImage] as? UIImage,
                  let jpeg = image.jpegData(compressionQuality: 0.9),
                  (try? jpeg.write(to: file)) != nil else { return }
            let (day, about) = (Day.shared, about)
            day.work.async {
                _ = day.attempt { try day.survey?.takePhoto(file: file, about: PhotoAbout(about: about)) }
                try? FileManager.default.removeItem(at: file)
            }
        }
    }
}
